"""The part of the scope page on lives: the guess, the records alone, and what is believed from both."""

import numpy as np

from pipeline.reports.tables import Note, Table

_MEDIANS = ("guess_median", "guess_low", "guess_high", "data_median", "data_low", "data_high", "median", "median_low",
            "median_high")
_COLUMNS = ("wear_class", "clock", "plays_share", "piece", "pieces_watched", "failures", *_MEDIANS, "shape",
            "prior_weight_share", "note")
_HEADINGS = {
    "guess_median": "guess alone, median", "guess_low": "guess, low", "guess_high": "guess, high",
    "data_median": "records alone, median", "data_low": "records, low", "data_high": "records, high",
    "median": "believed, median", "median_low": "believed, low", "median_high": "believed, high",
    "prior_weight_share": "share of the guess in it",
    "piece": "piece, as judged",
    "plays_share": "chance that plays age it",
}


def lives_behind(shop, lives, machine):
    """Lives of the wear classes that one machine holds, each on the clock that more likely ages it.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store.
    lives : pandas.DataFrame
        Output table ``lives``.
    machine : pipeline.decisions.scope.Machine or None

    Returns
    -------
    pipeline.reports.tables.Table or pipeline.reports.tables.Note
    """
    if machine is None:
        return Note("No machine, no lives to look at.")
    if machine.choice.lines.empty:
        return Note("Nothing is known to be in this machine, so there are no lives to look at.")
    clock = np.where(lives["plays_share"].astype(float) > 0.5, "plays", "months")
    classes = set(machine.choice.lines["wear_class"])
    table = lives[(lives["clock"] == clock) & lives["wear_class"].isin(classes) & (lives["judged"] != "partly")]
    piece = ["new" if was == "new" else f"kept, {judged}" for was, judged in
             zip(table["part_was"], table["judged"], strict=True)]
    words = zip(*(table[name].fillna("") for name in ("decides", "data_note", "warning")), strict=True)
    note = ["; ".join(word for word in dict.fromkeys(row) if word) for row in words]
    told = "Lives from delivery with 80 % intervals: the guess, the records alone, both together; in plays or in months"
    shown = table.assign(piece=piece, note=note).sort_values(["wear_class", "part_was", "judged"])
    shown = shown.assign(**{name: shown[name].map(_three_figures) for name in _MEDIANS})
    return Table(shown[list(_COLUMNS)], told, headings=_HEADINGS, dash="no finite estimate")


def _three_figures(value):
    """No life is known to more."""
    return float(f"{value:.3g}")

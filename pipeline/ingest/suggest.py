"""What to do about a value that broke a rule: near misses, and rows set aside with their parent."""

import difflib

from pipeline.store import catalogue


def suggest(offences, known, set_aside):
    """Complete the suggestions of a file's offences.

    Parameters
    ----------
    offences : pandas.DataFrame
        As :func:`pipeline.store.validate.offences` returns them; changed in place.
    known : pipeline.ingest.identifiers.Known
    set_aside : dict of (str, str) to str
        Parent column and identifier to "file line n" of rows set aside in this load.
    """
    for rule in offences["rule"].unique():
        if rule.startswith("unknown_"):
            column = rule.removeprefix("unknown_")
            words = {value: _about(value, column, known, set_aside)
                     for value in offences.loc[offences["rule"] == rule, "value"].unique()}
            mask = offences["rule"] == rule
            offences.loc[mask, "suggestion"] += offences.loc[mask, "value"].map(words)


def remember(frame, lines, table, set_aside, file):
    """Note which identifiers a file's set-aside rows would have declared."""
    if table.has_row_identity or len(table.identity) != 1 or table.identity[0] not in frame:
        return
    (column,) = table.identity
    rows = frame[frame["file_line"].isin(lines)]
    for line, value in zip(rows["file_line"], rows[column], strict=True):
        set_aside.setdefault((column, value), f"{file} line {line}")


def _about(value, column, known, set_aside):
    if where := set_aside.get((column, value)):
        return f"; it stands in {where}, which was itself set aside: mend that row first"
    near = near_misses(value, known.names(column))
    if near:
        return f"; did you mean {' or '.join(near)}?"
    register = next((name for name, table in catalogue.tables().items() if table.identity == (column,)), column)
    return f"; add it to {register}.csv or mend the spelling"


def near_misses(text, names, most=2):
    """Return up to ``most`` of ``names`` that look like ``text``, nearest first (list of str).

    Examples
    --------
    >>> near_misses("fli-coil", ["fli-coil-a", "bum-cap"])
    ['fli-coil-a']
    """
    folded = {name.casefold(): name for name in names}
    return [folded[near] for near in difflib.get_close_matches(text.casefold(), folded, n=most, cutoff=0.75)]

"""What can be done to each piece of a machine that fixing would leave: the rows among which the scope is chosen."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.decisions import companion_lines
from pipeline.decisions.scope_outlook import KEPT, KIND, KINDS, NEW, TREATMENT_HOURS
from pipeline.decisions.scope_outlook import TREATED as TREATMENTS
from pipeline.decisions.scope_plan import AS_FOUND, TREATED, WHOLE, looked_over, replaced_moves, states
from pipeline.kernels.scope_items import Companions

LEAST_PCS = 1e-9


@dataclass(frozen=True)
class Rows:
    """Rows of a machine: a portion is the pieces of one line in one state; each row does one thing to one portion.

    Attributes
    ----------
    table : pandas.DataFrame
        ``portion`` (rising; its first row keeps it), ``line``, ``state``, ``action``, ``note``, ``pcs`` moved,
        ``parts_amount``, ``hours``, ``replaced_share`` of the portion, ``is_offered`` (may be chosen by itself),
        ``is_whole``.
    pcs : ndarray of float, shape (n_rows, n_kinds)
        Pieces of each life that the row leaves in the machine.
    companions : pipeline.kernels.scope_items.Companions
        Rules on portions.
    line : ndarray of int, shape (n_portions,)
        Line of each portion.
    """

    table: pd.DataFrame
    pcs: np.ndarray
    companions: Companions
    line: np.ndarray


def rows(shop, subject, lines):
    """Rows of a machine.

    Every portion can be kept, or replaced where a price is known and the part can still be had (or comes along, where
    it can be had at all); cleaned, reconditioned or made where the owner's own list names that for the line. Where
    nobody has looked yet, it can also be done *as found*: opened, and the bad ones replaced, as many as thorough jobs
    replace.

    Parameters
    ----------
    shop : pipeline.decisions.scope_shop.Shop
    subject : pipeline.decisions.scope_subject.Subject
    lines : pandas.DataFrame
        Priced.

    Returns
    -------
    Rows
    """
    left = states(lines)
    line, state = np.nonzero(left > LEAST_PCS)
    portions = pd.DataFrame({"portion": np.arange(line.size), "line": line, "state": np.array(KEPT)[state],
                             "held": left[line, state]})
    own = lines.iloc[line].reset_index(drop=True)
    found = np.where(own["is_looked"], 0.0, np.minimum(own["thorough_pcs"] - own["fix_only_pcs"], portions["held"]))
    portions["found"] = np.where(portions["state"] == "unjudged", found, 0.0)
    made = [_kept(portions), _replaced(lines, own, portions), _made(lines, own, portions),
            _as_found(shop, subject, lines, own, portions),
            *(_treated(own, portions, action) for action in TREATMENTS)]
    table = pd.concat([each for each, _ in made], ignore_index=True)
    order = np.argsort(table["portion"].to_numpy(), kind="stable")
    pcs = np.concatenate([each for _, each in made])[order]
    return Rows(table.iloc[order].reset_index(drop=True), pcs, _companions(shop, lines, portions), line)


def _row(portions, action, note, **columns):
    given = dict.fromkeys(("pcs", "parts_amount", "hours", "replaced_share"), 0.0)
    given |= {"is_offered": True, "is_whole": False}
    return portions[["portion", "line", "state"]].assign(action=action, note=note, **(given | columns))


def _lives(portions, action=""):
    pcs = np.zeros((len(portions), len(KINDS)))
    for state in KEPT:
        mine = (portions["state"] == state).to_numpy()
        pcs[mine, KIND[state, action]] = portions["held"].to_numpy()[mine]
    return pcs


def _all_new(portions):
    pcs = np.zeros((len(portions), len(KINDS)))
    pcs[:, KIND[NEW, ""]] = portions["held"]
    return pcs


def _kept(portions):
    return _row(portions, "keep", ""), _lives(portions)


def _replaced(lines, own, portions):
    moves = replaced_moves(lines, portions["line"].to_numpy(), portions["held"].to_numpy(), "replace", WHOLE)
    is_had = own["is_sold"] | (own["on_hand_pcs"] >= portions["held"])
    row = _row(portions, "replace", WHOLE, pcs=portions["held"], parts_amount=moves["parts_amount"].fillna(0.0),
               hours=moves["hours"], replaced_share=1.0, is_whole=is_had.astype(bool),
               is_offered=own["unit_price"].notna() & is_had.astype(bool))
    return row, _all_new(portions)


def _made(lines, own, portions):
    is_listed = ((own["fix_only_action"] == "make") | (own["thorough_action"] == "make")).to_numpy()
    is_known = is_listed & own["made_price"].notna().to_numpy()
    mine = portions[is_known]
    moves = replaced_moves(lines, mine["line"].to_numpy(), mine["held"].to_numpy(), "make", WHOLE)
    row = _row(mine, "make", WHOLE, pcs=mine["held"], parts_amount=moves["parts_amount"].to_numpy(),
               hours=moves["hours"].to_numpy(), replaced_share=1.0)
    return row, _all_new(mine)


def _treated(own, portions, action):
    is_listed = ((own["fix_only_action"] == action) | (own["thorough_action"] == action)).to_numpy()
    mine = portions[is_listed]
    hours = mine["held"] * own["piece_hours"].to_numpy()[is_listed] * TREATMENT_HOURS[action]
    return _row(mine, action, TREATED, pcs=mine["held"], hours=hours), _lives(mine, action=action)


def _as_found(shop, subject, lines, own, portions):
    whole = np.zeros((2, len(lines)))
    np.add.at(whole, (slice(None), portions["line"].to_numpy()),
              np.stack([portions["held"] * (portions["state"] == "unjudged"), portions["found"]]))
    judged = looked_over(shop, subject, lines, *whole)[portions["line"]]
    is_known = ((portions["found"] > LEAST_PCS) & own["unit_price"].notna() & own["is_sold"].astype(bool)).to_numpy()
    mine, judged = portions[is_known], judged[is_known]
    moves = replaced_moves(lines, mine["line"].to_numpy(), mine["found"].to_numpy(), "replace", AS_FOUND)
    rest = (mine["held"] - mine["found"]).to_numpy()
    pcs = np.zeros((len(mine), len(KINDS)))
    pcs[:, KIND[NEW, ""]] = mine["found"]
    pcs[:, KIND["good", ""]], pcs[:, KIND["unjudged", ""]] = rest * judged, rest * (1 - judged)
    row = _row(mine, "replace", AS_FOUND, pcs=mine["found"], parts_amount=moves["parts_amount"].to_numpy(),
               hours=moves["hours"].to_numpy(), replaced_share=mine["found"] / mine["held"])
    return row, pcs


def _companions(shop, lines, portions):
    """Rules from portion to portion: the share of the target that comes along when the trigger is all replaced."""
    keyed = lines.reset_index(drop=True).reset_index(names="line")
    keyed = keyed.assign(assembly=keyed["assembly"].fillna(""))
    pairs = companion_lines.one_place(companion_lines.triggered(keyed, shop.rules.reset_index(names="rule")))
    pairs = pairs[pairs["line"] != pairs["target"]][["rule", "line", "target", "share", "qty_pcs", "per", "copies"]]
    triggers = portions[["portion", "line", "held"]].set_axis(["trigger", "line", "trigger_pcs"], axis=1)
    receivers = portions.rename(columns={"portion": "receiver", "line": "target"})[["receiver", "target"]]
    receivers = receivers.assign(target_pcs=portions.groupby("line")["held"].transform("sum").to_numpy())
    pairs = pairs.merge(triggers, on="line").merge(receivers, on="target")
    times = np.select([pairs["per"] == "piece", pairs["per"] == "assembly"],
                      [pairs["trigger_pcs"], np.minimum(pairs["trigger_pcs"], pairs["copies"])],
                      np.minimum(pairs["trigger_pcs"], 1.0))
    level = np.minimum(pairs["share"] * pairs["qty_pcs"] * times / pairs["target_pcs"], 1.0)
    # one rule on one place of the machine is one rule of its own: its triggers add up, other rules do not
    return Companions(pairs["rule"].to_numpy(dtype=int), pairs["trigger"].to_numpy(dtype=int),
                      pairs["receiver"].to_numpy(dtype=int), level.to_numpy(dtype=float))

"""Parts that may stand in for one that is short: by the directed rule of interchange, as far as they lie there."""

from collections import deque

import numpy as np

from pipeline.store import read


def offered(connection, lines, stock):
    """Name for each short line what may stand in for it.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An open store.
    lines : pandas.DataFrame
        part, on_shelf_pcs and short_pcs of each line, in the order in which the lines are served.
    stock : pandas.DataFrame
        part, free_pcs (missing: unknown, so not offered) and shelf.

    Returns
    -------
    pandas.DataFrame
        With substitute (a part; with its pieces where it covers the shortage only in part; several one after the
        other), condition (of each rule on the way, nearest part first) and substitute_shelf; missing where nothing
        stands in. What any line needs of a part itself goes before its standing in; no piece is offered twice.
    """
    rules = read.query(connection, """
        select part, can_replace, condition from interchange where part <> can_replace order by can_replace, part""")
    known = stock.set_index("part")
    left = known["free_pcs"].fillna(0.0)
    left = left.sub(lines.groupby("part")["on_shelf_pcs"].sum().astype(float), fill_value=0.0).to_dict()
    told = [_told(part, 0 if np.isnan(short) else int(short), rules, left, known["shelf"])
            for part, short in zip(lines["part"], lines["short_pcs"].astype(float), strict=True)]
    names = ("substitute", "condition", "substitute_shelf")
    return lines.assign(**{name: [words[place] for words in told] for place, name in enumerate(names)})


def ways(part, rules):
    """Parts that may stand in for a part, the nearest first, each with the conditions of the rules on its way.

    Parameters
    ----------
    part : str
    rules : pandas.DataFrame
        part, can_replace, condition: the first may stand in for the second, not the other way round.

    Returns
    -------
    list of (str, list of str)
        What stands in for a stand-in comes after it, under the conditions of both. A circle of rules ends where it
        meets a part again.

    Examples
    --------
    >>> import pandas as pd
    >>> rules = pd.DataFrame([("b", "a", "filed"), ("c", "b", None), ("a", "c", "glued")],
    ...                      columns=["part", "can_replace", "condition"])
    >>> ways("a", rules)
    [('b', ['filed']), ('c', ['filed'])]
    """
    met, waiting, found = {part}, deque([(part, [])]), []
    while waiting:
        wanted, conditions = waiting.popleft()
        for rule in rules[rules["can_replace"] == wanted].itertuples(index=False):
            if rule.part not in met:
                met.add(rule.part)
                said = [*conditions, rule.condition] if isinstance(rule.condition, str) else conditions
                found.append((rule.part, said))
                waiting.append((rule.part, said))
    return found


def _told(part, short, rules, left, shelves):
    """Substitute, condition and shelf in words for one line; takes the pieces from ``left``."""
    used, missing = [], short
    for other, conditions in ways(part, rules) if short > 0 else ():
        pieces = min(missing, int(left.get(other, 0)))
        if pieces > 0:
            left[other] -= pieces
            missing -= pieces
            used.append((other, pieces, "; ".join(conditions)))
    if not used:
        return None, None, None
    names = [other if pieces == short else f"{other} ({pieces} of {short})" for other, pieces, _ in used]
    conditions = [said if len(used) == 1 else f"{other}: {said}" for other, _, said in used if said]
    places = [shelves.get(other) for other, *_ in used if isinstance(shelves.get(other), str)]
    return ", ".join(names), "; ".join(conditions) or None, ", ".join(places) or None

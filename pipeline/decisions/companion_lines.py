"""Companion rules on the lines of one machine: what brings what, and how many pieces."""

import numpy as np
import pandas as pd

from pipeline.kernels.scope import companion_pieces

PER = {"piece": 0, "assembly": 1, "machine": 2}


def companions(lines, rules, classes):
    """Pieces that come along with what is replaced, each counted once.

    A rule works inside one assembly, or over the whole machine where it says so, and only where the machine's list
    has the part it adds.

    Parameters
    ----------
    lines : pandas.DataFrame
        ``assembly``, ``part``, ``held_pcs``, ``copies`` and ``pcs`` replaced.
    rules : pandas.DataFrame
        View ``tidy_companions``.
    classes : pandas.Series
        Wear class by part.

    Returns
    -------
    numpy.ndarray of float, shape (n_lines,)
        Pieces to add to each line.
    """
    keyed = lines.reset_index(drop=True).reset_index(names="line")
    keyed = keyed.assign(wear_class=keyed["part"].map(classes), assembly=keyed["assembly"].fillna(""))
    pairs = triggered(keyed, rules.reset_index(names="rule"))
    target, first = np.unique(
        pairs[["rule", "target"]].to_numpy(dtype=int).reshape(-1, 2), axis=0, return_inverse=True
    )
    if not len(target):
        return np.zeros(len(lines))
    of_rule = rules.iloc[target[:, 0]]
    assembly, names = pd.factorize(keyed["assembly"])
    copies = keyed.groupby("assembly")["copies"].max().reindex(names).to_numpy(dtype=float)
    return companion_pieces(
        keyed["pcs"],
        keyed["held_pcs"],
        (first.ravel(), pairs["line"].to_numpy(dtype=int)),
        assembly,
        copies,
        {
            "target": target[:, 1],
            "share": of_rule["share"].to_numpy(),
            "qty_pcs": of_rule["qty_pcs"].to_numpy(),
            "per": of_rule["per"].map(PER).to_numpy(),
        },
    )


def triggered(keyed, rules):
    """Pairs of rule and triggering line, each with the line that receives the companion.

    Parameters
    ----------
    keyed : pandas.DataFrame
        line (its number), assembly ("" for none), part, wear_class.
    rules : pandas.DataFrame
        View ``tidy_companions`` with ``rule``, its number.

    Returns
    -------
    pandas.DataFrame
        rule, line and target (numbers), with the columns of both.
    """
    by_part = keyed.merge(
        rules[rules["trigger_part"].notna()], left_on="part", right_on="trigger_part", suffixes=("", "_rule")
    )
    by_class = keyed.merge(
        rules[rules["trigger_part"].isna()],
        left_on="wear_class",
        right_on="trigger_wear_class",
        suffixes=("", "_rule"),
    )
    pairs = pd.concat([by_part, by_class], ignore_index=True)
    pairs = pairs[pairs["assembly_rule"].isna() | (pairs["assembly_rule"] == pairs["assembly"])]
    receivers = keyed[["line", "part", "assembly"]].rename(
        columns={"line": "target", "part": "adds_part", "assembly": "target_assembly"}
    )
    pairs = pairs.merge(receivers, on="adds_part")
    return pairs[(pairs["target_assembly"] == pairs["assembly"]) | (pairs["per"] == "machine")]


def one_place(pairs):
    """Pairs of a rule and its lines, with a piece that comes once per machine going to one place only.

    Parameters
    ----------
    pairs : pandas.DataFrame
        Of :func:`triggered`.

    Returns
    -------
    pandas.DataFrame
        The pairs that stand: beside what brings the piece where the list has it there.
    """
    is_elsewhere = pairs["target_assembly"] != pairs["assembly"]
    ordered = pairs.assign(is_elsewhere=is_elsewhere).sort_values(["is_elsewhere", "target"])
    first = ordered.groupby("rule")["target"].transform("first").reindex(pairs.index)
    return pairs[(pairs["per"] != "machine") | (pairs["target"] == first)]

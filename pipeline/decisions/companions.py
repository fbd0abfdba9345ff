"""Parts that come along with what a job needs: a new coil brings a new sleeve."""

import numpy as np
import pandas as pd

from pipeline.decisions import companion_lines
from pipeline.kernels.scope import companion_pieces
from pipeline.store import read

LINES = ["job", "family", "assembly", "part"]


def beside(connection, wants, least_share):
    """Add to the wants of jobs the pieces that come along with them.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An open store.
    wants : pandas.DataFrame
        Of :class:`pipeline.models.job_needs.JobNeeds`.
    least_share : float
        Chance, 0 to 1, from which a companion is listed: of the part that brings it, times the share of its rule.

    Returns
    -------
    pandas.DataFrame
        The wants, at most one row per job, assembly and part, with ``with_part``: the part that a companion comes
        along with, missing where the job wants the part anyway. Pieces wanted anyway are not added again. A rule works
        inside one assembly unless it is per machine, only where the family's list has the part it adds (where there is
        no list the rule's word is taken), and not on a part that the teardown decided to leave.
    """
    rules = read.frame(connection, "tidy_companions").reset_index(names="rule")
    lists = read.query(connection, """
        select family, assembly, part, machine_pcs::double as held_pcs, assembly_pcs::double as copies
        from tidy_assembly_parts order by family, machine_pcs desc, assembly, part""")
    left = read.query(connection, """
        select job, assembly, part from findings group by job, assembly, part
        having bool_and(coalesce(action in ('keep', 'clean', 'recondition'), false))""")
    classes = read.frame(connection, "tidy_parts").set_index("part")["wear_class"]
    wants = _placed(wants, lists).assign(with_part=None)
    each_job = wants.groupby("job") if len(rules) else ()
    added = [_added(job_wants, rules, lists, left, classes, least_share) for _, job_wants in each_job]
    return pd.concat([wants, *(part for part in added if len(part))], ignore_index=True)


def _placed(wants, lists):
    """Wants with the assembly they belong to: the one that holds most of the part where nobody said, else ""."""
    usual = lists.drop_duplicates(["family", "part"])[["family", "part", "assembly"]]
    told = wants.merge(usual.rename(columns={"assembly": "usual"}), on=["family", "part"], how="left")
    assembly = told["assembly"].astype(object).where(told["assembly"].notna(), told["usual"])
    wants = told.assign(assembly=assembly.where(assembly.notna(), ""))[list(wants.columns)]
    return wants.groupby([*LINES, "known_from"], as_index=False).agg(
        want_pcs=("want_pcs", "sum"), chance_share=("chance_share", "max"))


def _added(wants, rules, lists, left, classes, least_share):
    """Companions of one job, as wants."""
    job, family = wants["job"].iloc[0], wants["family"].iloc[0]
    lines = _lines(wants, lists[lists["family"] == family], rules).assign(family=family)
    lines = lines.assign(wear_class=lines["part"].map(classes), line=np.arange(len(lines)))
    pairs = companion_lines.one_place(companion_lines.triggered(lines, rules))
    pairs = pairs.assign(chance=pairs["chance_share"] * pairs["share"])
    pairs = pairs[(pairs["chance"] >= least_share) & (pairs["want_pcs"] > 0)]
    if pairs.empty:
        return wants[:0]
    pieces = _pieces(lines, pairs, rules)
    is_left = lines.merge(left[left["job"] == job].assign(is_left=True), on=["assembly", "part"], how="left")["is_left"]
    brought = pairs.sort_values("part").drop_duplicates("target").set_index("target")
    new = lines.assign(added=pieces)[(pieces > 0) & is_left.isna().to_numpy()]
    if new.empty:
        return wants[:0]
    is_own = new["want_pcs"] > 0
    by = brought.reindex(new["line"])
    return new.assign(
        job=job, want_pcs=np.ceil(new["added"]).astype(np.int64), with_part=by["part"].where(~is_own.to_numpy()).array,
        chance_share=by["chance"].to_numpy(), known_from=wants["known_from"].iloc[0])[list(wants.columns)]


def _lines(wants, listed, rules):
    """Every assembly and part of the family's list, with what the job wants of it; its wants beyond the list, too."""
    wanted = wants[["assembly", "part", "want_pcs", "chance_share"]]
    unlisted = wants.loc[~wants["assembly"].isin(listed["assembly"]), ["assembly"]].drop_duplicates()
    if len(unlisted):  # no list to say where a companion goes: beside what brings it
        places = unlisted.merge(rules[["adds_part"]].drop_duplicates(), how="cross")
        listed = pd.concat([listed, places.rename(columns={"adds_part": "part"})], ignore_index=True)
    lines = listed.drop(columns="family", errors="ignore").merge(wanted, how="outer", on=["assembly", "part"])
    lines = lines.reindex(columns=["assembly", "part", "held_pcs", "copies", "want_pcs", "chance_share"])
    copies = lines.groupby("assembly")["copies"].transform("max")
    return lines.assign(copies=copies).fillna({"held_pcs": 0.0, "copies": 1.0, "want_pcs": 0.0, "chance_share": 0.0})


def _pieces(lines, pairs, rules):
    """Pieces to add to each line: whole ones, as a companion that is listed is fetched whole."""
    target, first = np.unique(pairs[["rule", "target"]].to_numpy(dtype=int), axis=0, return_inverse=True)
    of_rule = rules.set_index("rule").loc[target[:, 0]]
    assembly, names = pd.factorize(lines["assembly"])
    asked = {"target": target[:, 1], "share": np.ones(len(target)), "qty_pcs": of_rule["qty_pcs"].to_numpy(),
             "per": of_rule["per"].map(companion_lines.PER).to_numpy()}
    copies = lines.groupby("assembly")["copies"].max().reindex(names).to_numpy(dtype=float)
    held = np.maximum(lines["held_pcs"], 0)
    return companion_pieces(lines["want_pcs"], held, (first.ravel(), pairs["line"].to_numpy(dtype=int)), assembly,
                            copies, asked)

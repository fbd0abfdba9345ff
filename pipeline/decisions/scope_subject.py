"""What a machine holds and what each option replaces in it: a typical machine of a family, or an opened job."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.decisions.companion_lines import companions
from pipeline.models import seeds, use_per_job
from pipeline.store import read

ENDS = ("fix_only", "thorough")  # the two that records and lists speak of; what is recommended lies between
REPLACED = ("replace", "make")
FROM_RECORDS = "pieces: expected use of such jobs"
FROM_OTHERS = "pieces: no such job of this family yet, so as in other families"
FROM_LIST = "pieces: by the assembly list's actions and companion rules"
FROM_FINDINGS = "pieces: as found at teardown, with companions; a worn piece is counted on like any kept one"
LINE_COLUMNS = [
    "assembly",
    "part",
    "wear_class",
    "held_pcs",
    "copies",
    "piece_hours",
    "is_hours_guessed",
    "fix_only_action",
    "thorough_action",
]
# Pieces that fixing finds no fault with, by what the teardown said of them, the worst first.
STATES = ("worn", "unjudged", "good")


@dataclass(frozen=True)
class Subject:
    """One machine to decide about.

    Attributes
    ----------
    subject : str
        ``family:ID`` or ``job:ID``.
    family : str
    warranty_days : float
    route_share : float
        Chance that the machine stands on route (1 or 0 where known); not a number where nobody wrote it.
    is_clock_plays : bool
        Whether its lives are counted in plays rather than in months.
    is_listed : bool
        Whether the assembly list says what the machine holds; without it nothing can be said of what is kept.
    lines : pandas.DataFrame
        One row per assembly and part: `LINE_COLUMNS`, then ``{option}_pcs`` and ``{option}_from`` for both `ENDS`,
        ``{state}_pcs`` for the `STATES` of what fixing alone finds no fault with, before companions, and
        ``is_looked``: whether the teardown looked there. Pieces are expected numbers and need not be whole.
    """

    subject: str
    family: str
    warranty_days: float
    route_share: float
    is_clock_plays: bool
    is_listed: bool
    lines: pd.DataFrame


def subjects(connection):
    """Every family as a typical machine, and every booked or running job that has findings.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.

    Returns
    -------
    list of Subject
        Families first, both in the order of their identifiers.
    """
    settings = read.settings(connection)
    rates = use_per_job.fit(connection).rates
    # of a part that no job of any family ever took, the lists' actions tell better what a scope means to replace
    rates = rates[rates.groupby("part")["jobs_with_use"].transform("sum") > 0]
    places = _places(connection)
    rules = read.frame(connection, "tidy_companions")
    classes = read.frame(connection, "tidy_parts").set_index("part")["wear_class"]
    found = read.frame(connection, "open_findings")
    typical = {}
    for row in _families(connection).itertuples():
        lines = _typical_lines(row.family, rates, places, rules, classes)
        typical[row.family] = Subject(
            f"family:{row.family}",
            row.family,
            settings.warranty_days,
            row.route_share,
            row.is_clock_plays,
            bool((places["family"] == row.family).any()),
            lines,
        )
    opened = [
        _opened(job, typical[job.family], found[found["job"] == job.job], rules, classes)
        for job in _open_jobs(connection).itertuples()
    ]
    return [*typical.values(), *opened]


def _families(connection):
    """How the machines of each family are used: counted in plays where most of its watched jobs are."""
    return read.query(
        connection,
        """
        with setting as (
            select family, avg(case setting when 'route' then 1.0 when 'home' then 0.0 end) as route_share
            from tidy_jobs group by family),
        clock as (select family, avg(is_clock_plays::int) >= 0.5 as is_clock_plays from jobs_watched group by family)
        select families.family, setting.route_share, coalesce(clock.is_clock_plays, false) as is_clock_plays
        from families left join setting on families.family = setting.family
        left join clock on families.family = clock.family order by families.family""",
    )


def _open_jobs(connection):
    return read.query(
        connection,
        """
        select job, family, warranty_days, case setting when 'route' then 1.0 when 'home' then 0.0 end as route_share
        from tidy_jobs where status in ('booked', 'in_progress') and job in (select job from open_findings)
        order by job""",
    )


def _places(connection):
    """Lines of the assembly lists; piece hours nobody gave come from the seed table."""
    places = read.query(
        connection,
        """
        select places.*, parts.wear_class from part_places as places
        inner join tidy_parts as parts on places.part = parts.part order by family, assembly, part""",
    )
    return places.assign(
        held_pcs=places["machine_pcs"].astype(float), copies=places["assembly_pcs"].astype(float)
    )


def _typical_lines(family, rates, places, rules, classes):
    lines = places[places["family"] == family].reset_index(drop=True)
    own = rates[rates["family"] == family]
    unlisted = own.loc[~own["part"].isin(lines["part"]), ["part"]].drop_duplicates()
    unlisted = unlisted.assign(
        assembly=None,
        held_pcs=0.0,
        copies=1.0,
        place_share=1.0,
        fix_only_action="replace",
        thorough_action="replace",
        wear_class=unlisted["part"].map(classes),
    )
    lines = _with_hours(pd.concat([lines, unlisted], ignore_index=True))
    for option in ENDS:
        scope = own[own["scope"] == option].set_index("part")
        if scope.empty:
            pcs, source = _by_list(lines, option, rules, classes), FROM_LIST
        else:
            taken = lines["part"].map(scope["expected_pcs_per_job"]) * lines["place_share"]
            told = FROM_RECORDS if scope["jobs_seen"].max() > 0 else FROM_OTHERS
            # of a part that no job ever took, the list speaks until such jobs of the family are on record
            is_told = taken.notna() | (scope["jobs_seen"].max() > 0)
            pcs = taken.fillna(0.0).where(is_told, _by_list(lines, option, rules, classes))
            source = np.where(is_told, told, FROM_LIST)
        lines = lines.assign(**{f"{option}_pcs": pcs, f"{option}_from": source})
    # records may take more than a list holds, or a part that no list knows: then that many are in the machine
    most = lines[[f"{option}_pcs" for option in ENDS]].max(axis=1)
    lines = lines.assign(held_pcs=np.fmax(lines["held_pcs"], most))
    lines = lines.assign(is_looked=False, worn_pcs=0.0, good_pcs=0.0, unjudged_pcs=_left(lines, "fix_only"))
    options = [f"{option}_{end}" for option in ENDS for end in ("pcs", "from")]
    return lines[[*LINE_COLUMNS, *options, *(f"{state}_pcs" for state in STATES), "is_looked"]]


def _left(lines, option):
    return (lines["held_pcs"] - lines[f"{option}_pcs"]).clip(lower=0.0)


def _with_hours(lines):
    guessed = lines["wear_class"].map(seeds.piece_hours())
    is_guessed = lines["piece_hours"].isna()
    return lines.assign(
        piece_hours=lines["piece_hours"].astype(float).where(~is_guessed, guessed),
        is_hours_guessed=is_guessed,
    )


def _by_list(lines, option, rules, classes):
    """Pieces that the assembly list's action replaces, and their companions."""
    pcs = lines["held_pcs"].where(lines[f"{option}_action"].isin(REPLACED), 0.0)
    return pcs + companions(lines.assign(pcs=pcs), rules, classes)


def _opened(job, typical, found, rules, classes):
    """A job's own lines: as found where the teardown looked, typical elsewhere."""
    held = typical.lines.assign(assembly=typical.lines["assembly"].fillna(""))
    held = held.drop(columns=["is_looked", *(f"{state}_pcs" for state in STATES)])
    lines = held.merge(found.drop(columns="job"), how="outer", on=["assembly", "part"])
    lines = lines.assign(wear_class=lines["part"].map(classes), copies=lines["copies"].fillna(1.0))
    counts = lines[["failed_pcs", "worn_pcs", "good_pcs", "unknown_pcs"]].fillna(0.0)
    lines["held_pcs"] = np.fmax(lines["held_pcs"].fillna(0.0), counts.sum(axis=1))
    lines = _with_hours(lines)
    is_looked = lines["assembly"].isin(set(found["assembly"])).to_numpy()
    worn_pcs = counts["failed_pcs"] + counts["worn_pcs"]
    wanted = {
        "fix_only": counts["failed_pcs"],
        "thorough": worn_pcs + lines["decided_pcs"].fillna(0.0),
    }
    for option in ENDS:
        pcs = np.where(is_looked, wanted[option], lines[f"{option}_pcs"].fillna(0.0))
        added = companions(lines.assign(pcs=np.where(is_looked, pcs, 0.0)), rules, classes)
        lines[f"{option}_pcs"] = pcs + np.where(is_looked, added, 0.0)
        lines[f"{option}_from"] = np.where(
            is_looked, FROM_FINDINGS, lines[f"{option}_from"].fillna(FROM_FINDINGS)
        )
    lines = lines.assign(is_looked=is_looked, **_states(lines, counts, is_looked))
    is_route_known = not np.isnan(job.route_share)
    return Subject(
        f"job:{job.job}",
        job.family,
        float(job.warranty_days),
        job.route_share if is_route_known else typical.route_share,
        typical.is_clock_plays,
        typical.is_listed,
        lines[typical.lines.columns],
    )


def _states(lines, counts, is_looked):
    """Pieces of each state as found; where nobody looked, whatever fixing leaves is unjudged."""
    unfound = (lines["held_pcs"] - counts["failed_pcs"] - counts["worn_pcs"] - counts["good_pcs"]).clip(lower=0.0)
    return {
        "worn_pcs": np.where(is_looked, counts["worn_pcs"], 0.0),
        "good_pcs": np.where(is_looked, counts["good_pcs"], 0.0),
        "unjudged_pcs": np.where(is_looked, unfound, _left(lines, "fix_only")),
    }

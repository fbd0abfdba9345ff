"""The true parameters of an invented workshop: what the generator knows and the records only hint at."""

import math
from dataclasses import dataclass, field
from datetime import date

import numpy as np

FAMILIES = ("electromech", "solidstate", "alphanumeric", "dotmatrix", "modern")
SCOPES = ("fix_only", "refresh", "thorough")
ROUGHNESS_LAWS = ("normal", "two_kinds")


@dataclass(frozen=True)
class Bookings:
    """How customers come: all shares are 0 to 1, all delays are days.

    ``family_shares`` follows `FAMILIES`; each row of ``scope_shares`` is one family over `SCOPES`.
    ``burst_jobs`` is the mean number of machines one customer brings at once (1 = always one), ``trend_share`` the
    yearly growth of the rate, ``season_share`` how far the winter peak stands above the yearly mean.
    """

    family_shares: tuple[float, ...] = (0.17, 0.23, 0.16, 0.31, 0.13)
    scope_shares: tuple[tuple[float, ...], ...] = (
        (0.46, 0.30, 0.24),
        (0.48, 0.31, 0.21),
        (0.50, 0.30, 0.20),
        (0.47, 0.33, 0.20),
        (0.60, 0.32, 0.08),
    )
    season_share: float = 0.18
    season_peak_day: int = 335
    trend_share: float = 0.0
    burst_jobs: float = 1.0
    accept_share: float = 0.74
    cancel_share: float = 0.03
    answer_mean_days: float = 9.0
    answer_shape: float = 1.3
    start_mean_days: tuple[float, ...] = (14.0, 35.0, 72.0)
    start_shape: tuple[float, ...] = (2.2, 2.6, 3.0)
    route_share: float = 0.22
    return_share: float = 0.16


@dataclass(frozen=True)
class Work:
    """What a job takes: hours by family and scope, and how rough machines differ.

    ``roughness_sd`` is the loading of the job's standard normal factor on the log-odds of every use;
    ``roughness_law`` is ``normal`` or ``two_kinds`` (most machines fair, some wrecks; same mean 0 and variance 1).
    ``use_spread`` is the sd of log-odds by which families and fittings differ from the class's habit.
    """

    mean_hours: tuple[tuple[float, ...], ...] = (
        (6.5, 15.0, 74.0),
        (5.75, 14.5, 69.0),
        (5.75, 15.0, 71.0),
        (6.25, 17.0, 83.0),
        (4.5, 12.5, 61.0),
    )
    hours_sigma: tuple[float, ...] = (0.48, 0.27, 0.24)
    hours_roughness: float = 0.13
    roughness_sd: float = 0.7
    roughness_law: str = "normal"
    use_spread: float = 0.35


@dataclass(frozen=True)
class Lives:
    """Weibull lives from delivery, as a multiple of the seeded ones, and calls that need no part.

    ``worn_share`` (by scope) is the share of kept pieces that are worn; ``worn_factor`` shortens their life.
    ``other_calls`` is the mean number of calls without a part over all time, by scope; they come early.
    """

    life_factor: float = 1.0
    worn_share: tuple[float, ...] = (0.34, 0.18, 0.04)
    worn_factor: float = 0.22
    other_calls: tuple[float, ...] = (0.045, 0.05, 0.06)
    other_mean_days: float = 42.0
    home_plays_per_month: float = 70.0
    route_plays_per_month: float = 520.0
    plays_sigma: float = 0.45


@dataclass(frozen=True)
class Habits:
    """How the owner buys, counts and writes things down; shares are 0 to 1 of the rows concerned."""

    check_every_days: int = 14
    months_kept: tuple[float, float] = (1.5, 5.0)
    months_left: tuple[float, float] = (0.3, 1.3)
    misjudged_sigma: float = 0.4
    count_error_share: float = 0.06
    forgotten_jobs_share: float = 0.06
    returned_share: float = 0.02
    quote_factor: float = 0.96
    quote_sigma: float = 0.14
    with_faults: bool = True


@dataclass(frozen=True)
class Changes:
    """What becomes different in the middle of the records; every ``_after_share`` is a share of their days.

    Quotes, the opening shelf and every other truth stay as they were before the change.

    Parameters
    ----------
    ending_family : str
        Of this family nobody asks any more once ``ending_after_share`` of the days are past; empty for none. Its jobs
        are not asked for instead by others: the rate falls.
    thorough_to_fix_only_share, refresh_to_fix_only_share : float
        Share (0 to 1) of those who would have asked for the scope and ask for ``fix_only`` instead, once
        ``switch_after_share`` of the days are past.
    policy_log_odds : float
        Added to the log-odds of every use by policy in refresh and thorough jobs whose planned start lies past
        ``policy_after_share`` of the days: above 0 the owner replaces more whatever its state, below 0 less. A piece
        found bad is replaced as before.

    Raises
    ------
    ValueError
        If the family is unknown, a share is not a share, or a change falls outside the records.
    """

    ending_family: str = ""
    ending_after_share: float = 0.5
    thorough_to_fix_only_share: float = 0.0
    refresh_to_fix_only_share: float = 0.0
    switch_after_share: float = 0.5
    policy_log_odds: float = 0.0
    policy_after_share: float = 0.5

    def __post_init__(self):
        if self.ending_family not in ("", *FAMILIES):
            raise ValueError(f"ending_family is {self.ending_family!r}; wanted one of {FAMILIES}, or none")
        for name in ("ending_after_share", "switch_after_share", "policy_after_share"):
            if not 0 < getattr(self, name) < 1:
                raise ValueError(f"{name} is {getattr(self, name)}; wanted a share between 0 and 1")
        for name in ("thorough_to_fix_only_share", "refresh_to_fix_only_share"):
            if not 0 <= getattr(self, name) <= 1:
                raise ValueError(f"{name} is {getattr(self, name)}; wanted 0 to 1")
        if not -10 <= self.policy_log_odds <= 10:
            raise ValueError(f"policy_log_odds is {self.policy_log_odds}; wanted -10 to 10")


@dataclass(frozen=True)
class World:
    """Everything true about one invented workshop; `dataclasses.replace` makes variants.

    Parameters
    ----------
    jobs_per_year : float
        Mean jobs booked a year, over all families and scopes; 15 to 120 is the range a small shop meets.
    years : int
        Years of records up to ``today``.
    today : datetime.date
        Last day of the records.
    with_bookings : bool
        False for a shop that writes a job down only when it starts.
    weekly_hours : float or None
        Bench hours a week; None keeps the default workload per hour whatever ``jobs_per_year`` is.
    bays : int or None
        Machines open at once; None grows with ``jobs_per_year``.
    changes : Changes
        What becomes different in the middle of the records; by default nothing does.

    Raises
    ------
    ValueError
        If a rate is not above 0, shares do not add up to 1, or the roughness law is unknown.

    Examples
    --------
    >>> World(jobs_per_year=30).bench_hours_per_week
    18.0
    >>> World().first_on
    datetime.date(2022, 11, 1)
    """

    jobs_per_year: float = 60.0
    years: int = 4
    today: date = date(2026, 10, 31)
    with_bookings: bool = True
    weekly_hours: float | None = None
    bays: int | None = None
    bookings: Bookings = field(default_factory=Bookings)
    work: Work = field(default_factory=Work)
    lives: Lives = field(default_factory=Lives)
    habits: Habits = field(default_factory=Habits)
    changes: Changes = field(default_factory=Changes)

    def __post_init__(self):
        if self.jobs_per_year <= 0 or self.years < 1:
            raise ValueError(f"jobs_per_year is {self.jobs_per_year} and years is {self.years}; wanted more than 0")
        for shares in (self.bookings.family_shares, *self.bookings.scope_shares):
            if min(shares) < 0 or abs(sum(shares) - 1) > 1e-9:
                raise ValueError(f"shares {shares} add up to {sum(shares):g}; wanted 1, none below 0")
        if self.work.roughness_law not in ROUGHNESS_LAWS:
            raise ValueError(f"roughness_law is {self.work.roughness_law!r}; wanted one of {ROUGHNESS_LAWS}")

    @property
    def bench_hours_per_week(self) -> float:
        """Hours the bench has a week, holidays aside."""
        return self.weekly_hours if self.weekly_hours is not None else 0.6 * self.jobs_per_year

    @property
    def bay_count(self) -> int:
        """Machines that can stand open at once."""
        return self.bays if self.bays is not None else max(2, round(self.jobs_per_year / 10))

    @property
    def first_on(self) -> date:
        """First day of the records."""
        day = 28 if (self.today.month, self.today.day) == (2, 29) else self.today.day
        return date.fromordinal(date(self.today.year - self.years, self.today.month, day).toordinal() + 1)

    @property
    def n_days(self) -> int:
        """Days of records, today included."""
        return (self.today - self.first_on).days + 1

    def day_after(self, share: float) -> int:
        """First day, counted from the first of the records, past this share of their days."""
        return math.ceil(share * self.n_days)

    def on(self, day: int) -> date:
        """Date of a day counted from the first of the records."""
        return date.fromordinal(self.first_on.toordinal() + int(day))


TOPICS = ("truth", "arrivals", "machines", "job", "shelf", "purchases", "floor", "lives", "money", "counts", "owner",
          "faults")


def stream(seed: int, topic: str, index: int = 0) -> np.random.Generator:
    """Random numbers of their own for a topic (and job), so that a change elsewhere does not shift them."""
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, TOPICS.index(topic), index])))

"""Jobs as they come: enquiry, answer, booking, planned start, and what each will turn out to need."""

import math
from dataclasses import dataclass, field

import numpy as np

from pipeline.demo import machines, use
from pipeline.demo.world import FAMILIES, SCOPES, stream

LEAD_IN_DAYS = 70  # bookings from before the records began that start within them
MONTH_DAYS = 30.44


@dataclass
class Job:
    """One job, its hidden truth and what became of it; days count from the first day of the records.

    ``needs`` holds (fitting, pieces, reason) of every part it truly takes; ``hours`` the clock hours it truly takes.
    """

    index: int
    machine: machines.Machine
    scope: str
    asked: int
    answered: int
    accepted: bool
    cancelled: bool
    planned: int
    roughness: float
    hours: float
    needs: list[tuple[int, int, str]]
    plays: int | None
    plays_quality: str
    job: str = ""
    started: int | None = None
    teardown: int | None = None
    delivered: int | None = None
    status: str = ""
    takings: list[tuple] = field(default_factory=list)
    work_days: list[tuple[int, float, float]] = field(default_factory=list)

    @property
    def family(self):
        """Family of its machine."""
        return self.machine.family


def booking_rate(world, day):
    """Return the mean number of accepted jobs booked on a day (float)."""
    day_of_year = (world.first_on.toordinal() + day - _new_year(world)) % 365.25
    booked = world.bookings
    season = 1 + booked.season_share * math.cos(2 * math.pi * (day_of_year - booked.season_peak_day) / 365.25)
    trend = (1 + booked.trend_share) ** ((day - world.n_days / 2) / 365.25)
    return world.jobs_per_year / 365.25 * season * trend


def _new_year(world):
    return world.first_on.replace(month=1, day=1).toordinal()


def arrivals(seed, world):
    """Return every enquiry of the records' time, accepted or not (list of Job), in order of asking."""
    rng = stream(seed, "arrivals")
    days = np.arange(-LEAD_IN_DAYS, world.n_days)
    rate = np.array([booking_rate(world, int(day)) for day in days])
    events = rng.poisson(rate / world.bookings.accept_share / world.bookings.burst_jobs)
    jobs, known = [], []
    for day in np.repeat(days, events).tolist():
        burst = int(rng.geometric(1 / world.bookings.burst_jobs))
        for _ in range(burst):
            jobs.append(_make(seed, world, len(jobs), day, known))
    # Jobs of a family that has ended are drawn all the same and then left out, so that no other job changes.
    kept = [job for job in jobs if (job.asked >= 0 or (job.accepted and job.planned >= 0)) and not _ended(world, job)]
    _number(kept, world)
    return kept


def _ended(world, job):
    changes = world.changes
    return job.family == changes.ending_family and job.asked >= world.day_after(changes.ending_after_share)


def _switched(seed, world, index, day, scope):
    share = {"thorough": world.changes.thorough_to_fix_only_share,
             "refresh": world.changes.refresh_to_fix_only_share}.get(scope, 0.0)
    if share == 0 or day < world.day_after(world.changes.switch_after_share):
        return scope
    return "fix_only" if stream(seed, "job", 2 * 10**6 + index).random() < share else scope


def _number(jobs, world):
    seen = {}
    for job in jobs:
        year = world.on(job.asked).year % 100
        seen[year] = seen.get(year, 0) + 1
        job.job = f"W{year}-{seen[year]:03d}"


def _make(seed, world, index, day, known):
    rng = stream(seed, "job", index)
    booked = world.bookings
    family = FAMILIES[int(rng.choice(5, p=booked.family_shares))]
    scope = SCOPES[int(rng.choice(3, p=booked.scope_shares[FAMILIES.index(family)]))]
    scope = _switched(seed, world, index, day, scope)
    machine = _machine(seed, world, rng, family, known)
    s = SCOPES.index(scope)
    answered = day + int(rng.gamma(booked.answer_shape, booked.answer_mean_days / booked.answer_shape))
    accepted = bool(rng.random() < booked.accept_share)
    wait = rng.gamma(booked.start_shape[s], booked.start_mean_days[s] / booked.start_shape[s])
    planned = answered + 1 + int(wait)
    roughness = use.draw_roughness(rng, world.work)
    fit = use.fitted_on(seed, world, family, planned)
    qty, reason = use.draw_needs(rng, fit, scope, roughness, world.work)
    plays, quality = machines.read_counter(rng, machine, max(0.0, day / MONTH_DAYS))
    return Job(index, machine, scope, day, answered, accepted, bool(rng.random() < booked.cancel_share),
               planned, roughness, draw_hours(rng, world, family, s, roughness),
               [(int(i), int(qty[i]), str(reason[i])) for i in np.flatnonzero(qty)], plays, quality)


def _machine(seed, world, rng, family, known):
    again = [machine for machine in known if machine.family == family]
    if again and rng.random() < world.bookings.return_share:
        return again[int(rng.integers(len(again)))]
    machine = machines.make(seed, len(known) + 1, family, world)
    known.append(machine)
    return machine


def draw_hours(rng, world, family, s, roughness):
    """Return a job's true clock hours (float, quarter hours); rough machines take longer."""
    work = world.work
    sigma, load = work.hours_sigma[s], work.hours_roughness
    log_hours = sigma * rng.normal() - sigma**2 / 2 + load * roughness - load**2 / 2
    return max(1.0, round(4 * work.mean_hours[FAMILIES.index(family)][s] * math.exp(log_hours)) / 4)

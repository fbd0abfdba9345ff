"""Kinds of job by hand: use per job and the course of past work, as the models behind the stock rules see them."""

from types import SimpleNamespace

import numpy as np
import pandas as pd

from pipeline.kernels.compound import UseRows
from pipeline.kernels.job_flow import PastWork
from pipeline.models import job_kinds
from pipeline.models.bench_work import COURSE_DAYS, BenchWork
from pipeline.models.use_per_job import UsePerJob
from tests.support.jobs_to_come import SMOOTH

ALIVE = 0.5  # every family is as likely to be asked for no more: the rate while it is, is twice that of all
ONE_PIECE = ((0.0, 1.0, 0.0, 0.0),)


def use_of(*cells, factor=SMOOTH, jobs_seen=10):
    """Beliefs: (family, scope, part, alpha, beta) a row, or with two nodes of pieces, each weighing one half."""
    rates = pd.DataFrame([cell[:3] for cell in cells], columns=["family", "scope", "part"]).assign(jobs_seen=jobs_seen)
    alpha, beta = (np.array([cell[place] for cell in cells], dtype=float) for place in (3, 4))
    rates["use_share"] = alpha / (alpha + beta)
    nodes = [cell[5] if len(cell) > 5 else ONE_PIECE * 2 for cell in cells]
    return UsePerJob(rates, UseRows(alpha, beta, np.array(nodes, dtype=float), np.full((len(cells), 2), 0.5)), factor,
                     None, 0.0)


def pipeline_of(*streams, notice=(30.0,) * 4, lags=(10,), weight=None):
    """Bookings (family, scope, jobs a day, shape); past jobs of every scope by their notice and lag in days."""
    rows = [(family, scope, shape, ALIVE * shape / per_day, ALIVE) for family, scope, per_day, shape in streams]
    bookings = pd.DataFrame(rows, columns=["family", "scope", "shape", "rate_days", "alive_share"])
    scopes = sorted({scope for _, scope, *_ in streams})
    taken = (np.arange(COURSE_DAYS) >= np.array(lags)[:, None]).astype(float)
    past = PastWork(np.full(len(lags), -1), np.full(len(lags), 60.0),
                    np.ones(len(lags)) if weight is None else np.array(weight, dtype=float), taken)
    slips = pd.DataFrame({"scope_index": -1, "wait_days": np.array(notice, dtype=float)})
    return SimpleNamespace(bookings=bookings, work=BenchWork(scopes, past, (999, np.array([999]), 0.0), slips, ()))


def kinds_of(use, *streams, parts=None, **course):
    """Kinds of job for the parts of the beliefs, sorted, or those named."""
    parts = sorted(set(use.rates["part"])) if parts is None else parts
    return job_kinds.fit(use, pipeline_of(*streams, **course), parts)

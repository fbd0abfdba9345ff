"""Why a total changed: more jobs, another mix of jobs, more in each job; the parts add up to the whole."""

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import require


def split_change(jobs_before, jobs_now, per_job, total_before, total_now):
    """Split the change of totals into number of jobs, mix of kinds, and what each job took.

    Parameters
    ----------
    jobs_before, jobs_now : array_like of float, shape (n_rows, n_kinds)
        Jobs of each kind in the earlier and the later window.
    per_job : array_like of float, shape (n_rows, n_kinds)
        What a job of the kind is expected to take, in the unit of the totals.
    total_before, total_now : array_like of float, shape (n_rows,)
        Totals of the two windows.

    Returns
    -------
    number, mix, each : ndarray of float, shape (n_rows,)
        ``number + mix + each = total_now - total_before``.

    Raises
    ------
    InvalidParameter
        If shapes differ or a number of jobs is negative.

    Notes
    -----
    With N = sum of jobs, m = jobs / N and u = ``per_job``:
    number = (N_now - N_before) x sum(m_before x u), mix = N_now x sum((m_now - m_before) x u), and each is the rest.
    Where the later total is N_now x sum(m_now x u), the rest is sum(jobs_before x (u - u_before)): a Laspeyres
    difference, jobs weighted as they were. Only it has the earlier jobs' own luck in it. Without a job before, all is
    number. These are the quantity, mix and rate variances of standard costing (Horngren, Datar & Rajan, Cost
    Accounting, chapter on sales variances; from memory).

    Examples
    --------
    >>> number, mix, each = split_change([[2, 2]], [[2, 4]], [[10, 50]], [110], [220])
    >>> number, mix, each  # 2 jobs more at 30 each; a sixth more of the dear kind; earlier ones took 10 less than usual
    (array([60.]), array([40.]), array([10.]))
    """
    before, now = (require.not_negative(name, np.atleast_2d(np.asarray(jobs, dtype=float)))
                   for name, jobs in (("jobs_before", jobs_before), ("jobs_now", jobs_now)))
    per_job = np.atleast_2d(np.asarray(per_job, dtype=float))
    first, last = (np.atleast_1d(np.asarray(total, dtype=float)) for total in (total_before, total_now))
    if not (before.shape == now.shape == per_job.shape and first.shape == last.shape == (len(before),)):
        raise InvalidParameter(f"jobs have shapes {before.shape} and {now.shape}, per_job {per_job.shape}, totals "
                               f"{first.shape} and {last.shape}; wanted rows by kinds, alike, and one total a row.")
    n_before, n_now = before.sum(axis=1), now.sum(axis=1)
    usual_now, usual_before = (_usual(jobs, count, per_job) for jobs, count in ((now, n_now), (before, n_before)))
    usual_before = np.where(n_before > 0, usual_before, usual_now)
    number, mix = (n_now - n_before) * usual_before, n_now * (usual_now - usual_before)
    mix = np.where(n_now > 0, mix, 0.0)
    return number, mix, last - first - number - mix


def _usual(jobs, count, per_job):
    """What a job of this mix is expected to take; 0 without a job. A kind without jobs may be unknown."""
    total = np.where(jobs > 0, jobs * per_job, 0.0).sum(axis=1)
    return total / np.where(count > 0, count, 1.0)

"""Draws of the shelf as recent jobs left it: what they took together, and what was ordered for those announced."""

import numpy as np

from pipeline.errors import InvalidParameter


def drained_shelf(level_pcs, lead_days, job_draw, job_age_days, job_need_pcs):
    """Shelf left after the recent jobs of each draw took their parts together.

    Parameters
    ----------
    level_pcs : array_like of int, shape (n_draws, n_parts)
        Pieces on hand and on order, less pieces owed, one lead time ago.
    lead_days : array_like of float, shape (n_draws, n_parts)
        Lead time of each part in each draw: what was on order then is here now.
    job_draw : array_like of int, shape (n_recent,)
        Draw that each recent job belongs to.
    job_age_days : array_like of float, shape (n_recent,)
        Days ago that job took its parts.
    job_need_pcs : array_like of int, shape (n_recent, n_parts)
        Pieces that job took.

    Returns
    -------
    ndarray of int, shape (n_draws, n_parts)
        Pieces on the shelf now; negative where owed. A job drains every part whose lead time reaches back to it,
        so parts are short together.

    Raises
    ------
    InvalidParameter
        If shapes do not fit together.

    Examples
    --------
    >>> drained_shelf([[3, 3]], [[10, 30]], [0], [20], [[2, 2]])
    array([[3, 1]])
    """
    shelf = np.array(level_pcs, dtype=np.int64)
    lead, draw = np.asarray(lead_days, dtype=float), np.asarray(job_draw, dtype=np.int64)
    need, age = np.asarray(job_need_pcs, dtype=np.int64), np.asarray(job_age_days, dtype=float)
    if lead.shape != shelf.shape or need.shape != (len(draw), shelf.shape[1]) or age.shape != draw.shape:
        raise InvalidParameter(
            f"level_pcs {shelf.shape}, lead_days {lead.shape}, job_draw {draw.shape}, job_age_days {age.shape} and "
            f"job_need_pcs {need.shape} do not fit; wanted draws x parts twice, recent jobs twice, jobs x parts."
        )
    taken = np.where(age[:, None] < lead[draw], need, 0)
    np.subtract.at(shelf, draw, taken)
    return shelf


def announced_pcs(lead_days, job_draw, job_age_days, job_notice_days, job_expected_pcs):
    """Pieces that were ordered on top of the rule for jobs already booked when the shelf's order went out.

    Parameters
    ----------
    lead_days : array_like of float, shape (n_draws, n_parts)
        Lead time of each part in each draw.
    job_draw : array_like of int, shape (n_recent,)
        Draw that each recent job belongs to.
    job_age_days, job_notice_days : array_like of float, shape (n_recent,)
        Days ago that the job took its parts, and days from its booking to that.
    job_expected_pcs : array_like of float, shape (n_recent, n_parts)
        Pieces such a job was expected to take when it was booked.

    Returns
    -------
    ndarray of float, shape (n_draws, n_parts)
        Pieces reserved in time. Only the difference between what such jobs took and what was expected of them, and
        jobs booked later than the order, draw on the rule's own pieces.

    Raises
    ------
    InvalidParameter
        If shapes do not fit together.

    References
    ----------
    Hariharan & Zipkin (1995), Management Science 41, 1599-1607: demand announced before the lead time needs no stock.

    Examples
    --------
    >>> announced_pcs([[10.0, 30.0]], [0], [5.0], [10.0], [[2.0, 2.0]])  # booked 15 days ago
    array([[2., 0.]])
    """
    lead, draw = np.asarray(lead_days, dtype=float), np.asarray(job_draw, dtype=np.int64)
    expected = np.asarray(job_expected_pcs, dtype=float)
    age, notice = np.asarray(job_age_days, dtype=float), np.asarray(job_notice_days, dtype=float)
    if expected.shape != (len(draw), lead.shape[1]) or age.shape != draw.shape or notice.shape != draw.shape:
        raise InvalidParameter(
            f"lead_days {lead.shape}, job_draw {draw.shape}, job_age_days {age.shape}, job_notice_days {notice.shape} "
            f"and job_expected_pcs {expected.shape} do not fit; wanted draws x parts, recent jobs three times, jobs x "
            "parts."
        )
    reach = lead[draw]
    is_in_time = (age[:, None] < reach) & ((age + notice)[:, None] >= reach)
    total = np.zeros(lead.shape)
    np.add.at(total, draw, np.where(is_in_time, expected, 0.0))
    return total

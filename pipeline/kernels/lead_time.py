"""Gamma lead times per vendor from deliveries, open orders and the vendor's quote; all vendors at once."""

from typing import NamedTuple

import numpy as np
from scipy.special import digamma, gammaincinv, polygamma

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.gamma_tail import log_density, log_survival, mean_beyond, mean_log_beyond

QUOTE_SHAPE = 4.0  # spread a bare quote is given: standard deviation half the mean
MOST_ROUNDS = 2000
STEADY = 1e-10  # relative change of mean and shape at which the fit has settled
STEEPEST_SHAPE = 1e4  # standard deviation 1 % of the mean; deliveries all alike would ask for infinity


class LeadTime(NamedTuple):
    """Fitted gamma lead time per vendor; ``nan`` where neither deliveries nor a quote can tell."""

    mean_days: np.ndarray
    shape: np.ndarray


def fit(days, is_open, vendor, quoted_days, pseudo_receipts, weight=None):
    """Maximum-likelihood gamma lead time per vendor, open orders censored, the quote counted as receipts.

    Parameters
    ----------
    days : array_like of float, shape (n_orders,)
        Days from order to receipt, or to today where the order is open; above 0.
    is_open : array_like of bool, shape (n_orders,)
        True where nothing has been received yet: the lead time is only known to be longer.
    vendor : array_like of int, shape (n_orders,)
        Row of ``quoted_days`` the order belongs to.
    quoted_days : array_like of float, shape (n_vendors,)
        Mean the vendor promises; ``nan`` where no quote is known.
    pseudo_receipts : float or array_like, shape (n_vendors,)
        How many receipts the quote counts for; 0 gives plain maximum likelihood.
    weight : array_like of float, shape (n_orders,), optional
        How much each row counts, default 1: lines of one order that travel together share a weight of 1.

    Returns
    -------
    LeadTime
        ``mean_days`` and gamma ``shape`` (mean squared over variance), shape (n_vendors,). ``nan`` without a quote
        and with fewer than two receipts or with receipts all of the same length (no maximum exists).

    Raises
    ------
    InvalidParameter
        If lengths differ, a duration or weight is not above 0, or a vendor number is unknown.

    Notes
    -----
    Expectation-maximisation: each open order counts with its expected remaining days (and their logarithm) given
    how long it has been open; then the complete-data maximum. Leaving open orders out would make late vendors look
    fast. The quote enters as ``pseudo_receipts`` deliveries with mean ``quoted_days`` and shape 4.

    References
    ----------
    Dempster, Laird & Rubin (1977), J. Royal Statist. Soc. B 39, 1-38; Meeker & Escobar (1998), Statistical Methods
    for Reliability Data, chapter 11.

    Examples
    --------
    >>> fitted = fit([4, 6, 8, 30], [False, False, False, True], [0, 0, 0, 0], [5.0], 0)
    >>> fitted.mean_days.round(2), fitted.shape.round(2)
    (array([15.48]), array([1.16]))
    """
    days, is_open, vendor, weight = _one_row_each(days, is_open, vendor, weight)
    quoted, pseudo = _quotes(quoted_days, pseudo_receipts, vendor)
    sums = _Sums(days, is_open, vendor, weight, quoted, pseudo)
    mean, shape = sums.start_mean, np.where(sums.can_fit, 1.0, np.nan)
    for _ in range(MOST_ROUNDS):
        total_days, total_log = sums.expected(mean, shape)
        new_mean = total_days / sums.count
        new_shape = _shape_from(np.log(new_mean) - total_log / sums.count, shape)
        moved = np.abs(new_mean / mean - 1) + np.abs(new_shape / shape - 1)
        mean, shape = new_mean, new_shape
        if np.nanmax(moved, initial=0.0) < STEADY:
            break
    return LeadTime(mean, shape)


def quantile_days(fitted, shares):
    """Days by which given shares of orders have arrived.

    Parameters
    ----------
    fitted : LeadTime
        Arrays of shape (n_vendors,).
    shares : array_like of float, shape (n_shares,)
        Shares of orders, 0 to 1.

    Returns
    -------
    ndarray of float, shape (n_vendors, n_shares)
        Days; ``nan`` where the vendor has no fit.

    Raises
    ------
    InvalidParameter
        If a share is outside [0, 1].

    Examples
    --------
    >>> quantile_days(LeadTime(np.array([10.0]), np.array([1.0])), [0.5]).round(3)
    array([[6.931]])
    """
    shares = np.atleast_1d(require.share("shares", shares))
    shape, mean = np.atleast_1d(fitted.shape)[:, None], np.atleast_1d(fitted.mean_days)[:, None]
    return gammaincinv(shape, shares) * mean / shape


def period_shares(fitted, period_days, n_periods):
    """Share of orders that arrive during the first, second, ... period after the order.

    Parameters
    ----------
    fitted : LeadTime
        Arrays of shape (n_vendors,).
    period_days : float
        Length of a period.
    n_periods : int
        Periods to lay out; what takes longer is counted in the last one.

    Returns
    -------
    ndarray of float, shape (n_vendors, n_periods)
        ``shares[v, k]``: lead time above k and up to k + 1 periods, that is k + 1 periods when rounded up. Rows sum
        to 1, or are ``nan`` where the vendor has no fit.

    Raises
    ------
    InvalidParameter
        If the period is not above 0 or ``n_periods`` is below 1.

    Examples
    --------
    >>> period_shares(LeadTime(np.array([10.0]), np.array([1.0])), 7, 3).round(3)
    array([[0.503, 0.25 , 0.247]])
    """
    period_days = require.positive("period_days", period_days)
    ends = period_days * np.arange(require.whole_positive("n_periods", n_periods))
    still_out = np.exp(log_survival(fitted.shape[:, None], ends * (fitted.shape / fitted.mean_days)[:, None]))
    return still_out - np.concatenate([still_out[:, 1:], np.zeros((len(still_out), 1))], axis=1)


def log_likelihood(fitted, days, is_open, vendor):
    """Log-likelihood of deliveries and open orders under a fit, summed per vendor, the quote left out.

    Parameters
    ----------
    fitted : LeadTime
        Arrays of shape (n_vendors,).
    days, is_open, vendor : array_like, shape (n_orders,)
        As in :func:`fit`.

    Returns
    -------
    ndarray of float, shape (n_vendors,)
        Natural logarithm of density (received) and of survival (open), added up.

    Raises
    ------
    InvalidParameter
        If lengths differ, a duration is not above 0 or a vendor number is negative.

    Examples
    --------
    >>> log_likelihood(LeadTime(np.array([10.0]), np.array([1.0])), [20.0], [True], [0])
    array([-2.])
    """
    days, is_open, vendor, _ = _one_row_each(days, is_open, vendor, None)
    shape = np.asarray(fitted.shape)[vendor]
    scaled = days * shape / np.asarray(fitted.mean_days)[vendor]
    survival = log_survival(shape, scaled)
    density = log_density(shape, scaled) - np.log(days)
    return np.bincount(vendor, np.where(is_open, survival, density), minlength=len(fitted.shape))


class _Sums:
    """Weighted counts, days and log days per vendor: received orders and quote fixed, open ones by expectation."""

    def __init__(self, days, is_open, vendor, weight, quoted, pseudo):
        self.n_vendors, received = len(quoted), ~is_open
        self.open_days, self.open_vendor, self.open_weight = days[is_open], vendor[is_open], weight[is_open]
        quote_log = np.log(quoted) + digamma(QUOTE_SHAPE) - np.log(QUOTE_SHAPE)
        self.count = self._per_vendor(vendor, weight) + pseudo
        self.days = self._per_vendor(vendor[received], (weight * days)[received]) + pseudo * quoted
        self.log = self._per_vendor(vendor[received], (weight * np.log(days))[received]) + pseudo * quote_log
        shortest, longest = np.full(self.n_vendors, np.inf), np.full(self.n_vendors, -np.inf)
        np.minimum.at(shortest, vendor[received], days[received])
        np.maximum.at(longest, vendor[received], days[received])
        self.can_fit = (pseudo > 0) | (longest > shortest)
        self.count = np.where(self.can_fit, self.count, np.nan)  # missing stays missing through every round
        self.start_mean = (self._per_vendor(vendor, weight * days) + pseudo * quoted) / self.count

    def _per_vendor(self, vendor, values):
        return np.bincount(vendor, values, minlength=self.n_vendors)

    def expected(self, mean, shape):
        shape_of, scale_of = shape[self.open_vendor], (mean / shape)[self.open_vendor]
        beyond = self.open_days / scale_of
        longer = scale_of * mean_beyond(shape_of, beyond)
        log_longer = np.log(scale_of) + mean_log_beyond(shape_of, beyond)
        return (
            self.days + self._per_vendor(self.open_vendor, self.open_weight * longer),
            self.log + self._per_vendor(self.open_vendor, self.open_weight * log_longer),
        )


def _shape_from(gap, start):
    """Gamma shape k with log k - digamma(k) = gap, by Newton on log k; gap is log of mean less mean of logs."""
    shape = np.where(np.isfinite(start), start, np.nan)
    gap = np.maximum(gap, np.log(STEEPEST_SHAPE) - digamma(STEEPEST_SHAPE))
    shape = (3 - gap + np.sqrt((gap - 3) ** 2 + 24 * gap)) / (12 * gap) + 0 * shape  # Minka's starting value
    for _ in range(6):
        slope = 1 / shape - polygamma(1, shape)
        shape = shape * np.exp(-(np.log(shape) - digamma(shape) - gap) / (shape * slope))
    return np.minimum(shape, STEEPEST_SHAPE)


def _one_row_each(days, is_open, vendor, weight):
    days = require.positive("days", np.atleast_1d(days)) if np.size(days) else np.zeros(0)
    is_open, vendor = np.atleast_1d(is_open).astype(bool), np.atleast_1d(vendor).astype(np.int64)
    weight = np.ones(len(days)) if weight is None else require.positive("weight", np.atleast_1d(weight))
    if not len(days) == len(is_open) == len(vendor) == len(weight):
        raise InvalidParameter(
            f"days, is_open, vendor and weight have {len(days)}, {len(is_open)}, {len(vendor)} and {len(weight)} "
            "rows; wanted one row per order in each."
        )
    if (vendor < 0).any():
        raise InvalidParameter(f"vendor is {vendor.min()}; wanted a row number from 0.")
    return days, is_open, vendor, weight


def _quotes(quoted_days, pseudo_receipts, vendor):
    quoted = np.atleast_1d(np.asarray(quoted_days, dtype=float))
    if len(vendor) and vendor.max() >= len(quoted):
        raise InvalidParameter(f"vendor is {vendor.max()}; wanted a row of quoted_days, 0 to {len(quoted) - 1}.")
    known = np.isfinite(quoted)
    require.positive("quoted_days", quoted[known])
    pseudo = np.broadcast_to(require.not_negative("pseudo_receipts", pseudo_receipts), len(quoted))
    return np.where(known, quoted, 1.0), np.where(known, pseudo, 0.0)

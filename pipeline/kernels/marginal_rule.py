"""The plan's reorder rule, to replay a shop with: each review weighs a lot against the jobs it keeps from waiting."""

from dataclasses import dataclass, field

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import marginal_reorder as margin
from pipeline.kernels.shop_replay import KnownJobs

STEPS = 4  # a known job's chance of falling within a time is told in quarters


@dataclass(frozen=True)
class Announcements:
    """How jobs make themselves known, by days from now: column d holds what falls within d days.

    Attributes
    ----------
    unknown_jobs : ndarray of float, shape (n_kinds, n_days)
        Jobs expected to take their parts within so many days that nobody knows of now.
    lag_share : ndarray of float, shape (n_kinds, n_days)
        Share of jobs that take their parts within so many days of the day they were planned for.
    """

    unknown_jobs: np.ndarray
    lag_share: np.ndarray

    def unknown(self, days):
        """Jobs nobody knows of within some days: ndarray, shape (n_kinds,)."""
        n_days = self.unknown_jobs.shape[1]
        whole = min(int(days), n_days - 2)
        low, high = self.unknown_jobs[:, whole], self.unknown_jobs[:, whole + 1]
        return low + (days - whole) * (high - low)

    def known_share(self, known, days):
        """Chance of each known job to take its parts within some days, given it has not yet.

        Parameters
        ----------
        known : pipeline.kernels.shop_replay.KnownJobs
        days : ndarray of float, shape (n_times,)

        Returns
        -------
        ndarray of float, shape (n_times, n_known)
        """
        last = self.lag_share.shape[1] - 1
        late = np.minimum(np.maximum(-known.ahead_days, 0), last)
        # the day's own jobs have been torn down by the time orders go out
        before = np.where(known.ahead_days <= 0, self.lag_share[known.kind, late], 0.0)
        within = np.floor(days[:, None] - known.ahead_days).astype(np.int64)
        by_then = np.where(within >= 0, self.lag_share[known.kind, np.minimum(np.maximum(within, 0), last)], 0.0)
        return np.maximum((by_then - before) / np.maximum(1 - before, 1e-3), 0.0)


@dataclass(frozen=True)
class Stock:
    """What ordering a part means, arrays over parts.

    Attributes
    ----------
    vendor : ndarray of int, shape (n_parts,)
        Whose order it joins.
    lead_days : ndarray of float, shape (n_parts, n_lengths)
        Equally likely lead times; the same for all parts of a vendor.
    lot_pcs : ndarray of int, shape (n_parts,)
        Pieces ordered at once, whole packs.
    least_gain : ndarray of float, shape (n_parts,)
        Jobs kept from waiting that a week's holding of the lot must buy; infinite: never ordered ahead.
    join_share : float
        Share of ``least_gain`` at which a part joins an order that goes out anyhow, 0 to 1; 1: none joins.
    """

    vendor: np.ndarray
    lead_days: np.ndarray
    lot_pcs: np.ndarray
    least_gain: np.ndarray
    join_share: float = 1.0


@dataclass(frozen=True)
class MarginalRule:
    """Order a lot when the jobs it would keep from waiting until the next review are worth a week's holding of it.

    Attributes
    ----------
    needs : pipeline.kernels.marginal_reorder.Needs
        What jobs of each kind need.
    doubt : ndarray of float, shape (n_kinds, n_parts)
        Squared coefficient of variation of the use of each part by jobs nobody knows of.
    announced : Announcements
    stock : Stock
    n_runs : int
        Runs side by side.
    review_days : int
        Days from one review to the next.

    Notes
    -----
    Marginal analysis, as for spare parts: the piece with the most readiness per unit of money comes first, and one
    price of cash stops it everywhere (Sherbrooke 1968, Operations Research 16, 122-141). Known jobs are in the
    demand with the day they are planned for.
    """

    needs: margin.Needs
    doubt: np.ndarray
    announced: Announcements
    stock: Stock
    n_runs: int
    review_days: int = 7
    _vendors: list = field(init=False, repr=False)
    opening_pcs: np.ndarray = field(init=False, repr=False)

    def __post_init__(self):
        """Lay out what does not change from review to review."""
        n_parts = self.stock.vendor.size
        if self.needs.share.shape[1] != n_parts or self.stock.lead_days.shape[0] != n_parts:
            raise InvalidParameter(f"needs of {self.needs.share.shape[1]} parts and {len(self.stock.lead_days)} lead "
                                   f"times do not fit {n_parts} parts.")
        ahead = np.isfinite(self.stock.least_gain) & (len(self.needs.share) > 0)  # without a job, for none
        vendors = [self._laid_out(vendor) for vendor in np.unique(self.stock.vendor[ahead])]
        object.__setattr__(self, "_vendors", vendors)
        none = KnownJobs(*(np.zeros(0, dtype=np.int64) for _ in range(3)))
        must, _ = self.reorder_points(none)
        object.__setattr__(self, "opening_pcs", np.where(must[0] >= 0, must[0] + self.stock.lot_pcs, 0))

    def wanted_pcs(self, position_pcs, known):
        """Pieces to order, whole lots.

        Parameters
        ----------
        position_pcs : ndarray of int, shape (n_runs, n_parts)
            On hand and on order, less what waiting jobs are owed.
        known : pipeline.kernels.shop_replay.KnownJobs
            Jobs to come.

        Returns
        -------
        ndarray of int, shape (n_runs, n_parts)
        """
        must, may = self.reorder_points(known)
        run, part = np.nonzero(position_pcs <= must)
        goes_out = np.zeros((self.n_runs, int(self.stock.vendor.max(initial=0)) + 1), dtype=bool)
        goes_out[run, self.stock.vendor[part]] = True
        point = np.where(goes_out[:, self.stock.vendor], may, must)
        lots = -(-(point + 1 - position_pcs) // self.stock.lot_pcs)
        return np.maximum(lots, 0) * self.stock.lot_pcs

    def reorder_points(self, known):
        """Positions at or below which a part must be ordered, and at which it may join an order.

        Parameters
        ----------
        known : pipeline.kernels.shop_replay.KnownJobs
            Jobs to come.

        Returns
        -------
        must, may : ndarray of int, shape (n_runs, n_parts)
        """
        must, may = (np.full((self.n_runs, self.stock.vendor.size), -1) for _ in range(2))
        for vendor in self._vendors:
            gain = self._gain(known, vendor)
            least = self.stock.least_gain[vendor.parts]
            must[:, vendor.parts] = margin.reorder_point(gain, least, vendor.bundle_pcs)
            may[:, vendor.parts] = margin.reorder_point(gain, self.stock.join_share * least, vendor.bundle_pcs)
        return must, may

    def _laid_out(self, vendor):
        """What does not change from review to review for the parts of a vendor that are ordered ahead."""
        parts = np.flatnonzero((self.stock.vendor == vendor) & np.isfinite(self.stock.least_gain))
        needs, doubt = self.needs.take(parts), self.doubt[:, parts]
        chances = [step / STEPS * needs.share for step in range(1, STEPS + 1)]
        log_known = np.stack([margin.log_known(needs, chance) for chance in chances], axis=1)
        one_job = needs.share[:, :, None] * needs.pieces
        # A job on the books does not stand before itself: where it needs, its own part of the demand is taken out.
        own = np.exp(np.concatenate([np.zeros_like(log_known[:, :1]), log_known], axis=1))
        days = self.stock.lead_days[parts[0]]
        streams, needed = [], []
        for lead in days:
            start, middle, end = (self.announced.unknown(lead + share * self.review_days) for share in (0.0, 0.5, 1.0))
            streams.append(margin.log_stream(needs, np.broadcast_to(middle[:, None], needs.share.shape), doubt))
            needed.append(np.tensordot(end - start, one_job, axes=1))
        return _Vendor(parts, needs.bundle_pcs, days, _as_real(log_known, 2), np.array(streams),
                       _as_real(one_job[:, None] / own, 2), np.array(needed))

    def _gain(self, known, vendor):
        """Jobs that would stall at each position, lead times weighed alike: shape (n_runs, n_parts, GRID)."""
        times = (vendor.days[:, None] + self.review_days * np.array([0.0, 1.0])).ravel()
        start, end = np.moveaxis(
            self.announced.known_share(known, times).reshape(vendor.days.size, 2, known.run.size), 1, 0)
        # of two jobs of one week either comes first
        step = np.rint(STEPS * (start + end) / 2).astype(np.int64)
        shape = (vendor.days.size, self.n_runs, len(vendor.one_job) // (STEPS + 1), STEPS + 1)
        at = np.ravel_multi_index((np.arange(vendor.days.size)[:, None], known.run, known.kind, step), shape).ravel()
        count = np.bincount(at, minlength=int(np.prod(shape))).reshape(shape)[..., 1:]
        in_week = np.bincount(at, (end - start).ravel(), int(np.prod(shape))).reshape(shape)
        demand = self._summed(count, vendor.log_known, vendor) + vendor.streams[:, None]
        needed = self._summed(in_week, vendor.one_job, vendor) + vendor.needed[:, None]
        return margin.stall_gain((np.exp(demand) * needed).mean(axis=0))

    def _summed(self, weight, terms, vendor):
        """Weighted sums of transforms: ndarray of complex, shape (n_lengths, n_runs, n_parts, GRID // 2 + 1)."""
        rows = weight.reshape(-1, len(terms)).astype(float)  # all lead times at once: the terms are read once
        return (rows @ terms).view(np.complex128).reshape(*weight.shape[:2], vendor.parts.size, -1)


@dataclass(frozen=True)
class _Vendor:
    """A vendor's parts, its lead times, and transforms: of known jobs by kind and step, of streams, of one job's need.

    ``one_job`` holds, by kind and step from 0, the need of a job over what the same job adds to the demand.
    """

    parts: np.ndarray
    bundle_pcs: np.ndarray
    days: np.ndarray
    log_known: np.ndarray
    streams: np.ndarray
    one_job: np.ndarray
    needed: np.ndarray


def _as_real(transform, n_axes):
    """Transforms as rows of real numbers over their first axes: a product with real weights is twice as fast."""
    rows = int(np.prod(transform.shape[:n_axes]))
    return np.ascontiguousarray(transform).view(float).reshape(rows, -1)

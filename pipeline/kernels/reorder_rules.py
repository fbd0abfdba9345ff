"""Reorder rules of fixed levels, for replaying a shop: what is reserved for known jobs, and one lot at a time."""

from dataclasses import dataclass

import numpy as np

from pipeline.errors import InvalidParameter


@dataclass(frozen=True)
class FixedLevels:
    """What is on hand and on order, less pieces owed and reserved, at or below s: order up to S.

    Attributes
    ----------
    reorder_point_pcs, order_up_to_pcs : ndarray of int, shape (n_parts,)
        s and S. Beyond the reserved, that is for jobs nobody knows of yet and for what known ones take unexpectedly.
    reserve_days : ndarray of int, shape (n_parts,)
        Known jobs planned within this many days reserve what they are expected to take; 0 reserves nothing.
    expected_pcs : ndarray of float, shape (n_kinds, n_parts)
        Pieces a job of each kind is expected to take.
    review_days : int
        Days from one review to the next.

    Raises
    ------
    InvalidParameter
        If lengths differ.
    """

    reorder_point_pcs: np.ndarray
    order_up_to_pcs: np.ndarray
    reserve_days: np.ndarray
    expected_pcs: np.ndarray
    review_days: int = 7

    def __post_init__(self):
        """Refuse levels that do not fit together."""
        wanted = np.shape(self.reorder_point_pcs)
        for name in ("order_up_to_pcs", "reserve_days"):
            if np.shape(getattr(self, name)) != wanted:
                raise InvalidParameter(f"{name} has shape {np.shape(getattr(self, name))}; "
                                       f"wanted {wanted} like reorder_point_pcs.")

    @property
    def opening_pcs(self):
        """S: ndarray of int, shape (n_parts,)."""
        return self.order_up_to_pcs

    def wanted_pcs(self, position_pcs, known):
        """Pieces to order, before packs.

        Parameters
        ----------
        position_pcs : ndarray of int, shape (n_runs, n_parts)
            On hand and on order, less what waiting jobs are owed.
        known : pipeline.kernels.shop_replay.KnownJobs
            Jobs to come.

        Returns
        -------
        ndarray of float, shape (n_runs, n_parts)
        """
        position = position_pcs - self._reserved(known, position_pcs.shape)
        return np.where(position <= self.reorder_point_pcs, self.order_up_to_pcs - position, 0.0)

    def _reserved(self, known, shape):
        """What known jobs are expected to take within each part's days, whole pieces."""
        reserved = np.zeros(shape)
        is_in = known.ahead_days < np.max(self.reserve_days, initial=0)
        if is_in.any():
            ahead, kind = known.ahead_days[is_in, None], known.kind[is_in]
            is_near = (ahead < self.reserve_days) & (np.asarray(self.reserve_days) > 0)  # a day gone by is near, too
            np.add.at(reserved, known.run[is_in], np.where(is_near, self.expected_pcs[kind], 0.0))
        return np.floor(reserved + 0.5)

"""How often a machine comes back under each option: the whole distribution, inside the warranty and over five years."""

import numpy as np
import pandas as pd

from pipeline.decisions.scope_prospect import OWNER_DAYS
from pipeline.kernels.call_counts import call_counts
from pipeline.kernels.failure_counts import failure_counts

CALL_COLUMNS = ["subject", "option", "horizon_days", "none_share", "one_share", "two_share", "more_share"]
_STEPS = 16  # to 1e-4 up to three lives
_MOST = 5  # failures of one piece told apart


def option_calls(shop, machine, plans):
    """Chance of no, one, two, or more call-backs of one machine under each option.

    Calls for which no part is to blame are counted inside the warranty only: beyond it nobody noted any.

    Parameters
    ----------
    shop : pipeline.decisions.scope_shop.Shop
    machine : pipeline.decisions.scope.Machine
    plans : dict of str to pipeline.decisions.scope_plan.Plan

    Returns
    -------
    pandas.DataFrame
        Columns `CALL_COLUMNS`, two rows per option; unknown where no list says what stays in the machine.
    """
    subject, lines = machine.subject, machine.choice.lines
    wear = np.searchsorted(shop.outlook.classes, lines["wear_class"])
    pcs = {option: _by_class(plan.pcs, wear, len(shop.outlook.classes)) for option, plan in plans.items()}
    kind, wear_class = np.nonzero(sum(pcs.values()) > 0)
    asked = subject.route_share, subject.is_clock_plays, kind, wear_class
    scale, shape, new_scale, new_shape = shop.outlook.lives(*asked)
    rows = []
    for days in (subject.warranty_days, OWNER_DAYS):
        time = shop.outlook.time(days)[:, None]
        counts = _whole(failure_counts(time, new_scale, new_shape, scale, shape, n_max=_MOST, steps=_STEPS))
        for option, plan in plans.items():
            other = machine.choice.other_calls_of(plan)
            shares = call_counts(counts, pcs[option][kind, wear_class], other)
            rows.append([subject.subject, option, days, *(shares if subject.is_listed else shares * np.nan)])
    return pd.DataFrame(rows, columns=CALL_COLUMNS)


def _whole(counts):
    """Chances that add up to 1 with none below 0: few steps leave some; that of no failure is exact and stays."""
    some = np.clip(counts[..., 1:], 0.0, 1.0)
    total = some.sum(axis=-1, keepdims=True)
    some *= np.divide(1 - counts[..., :1], total, out=np.zeros(total.shape), where=total > 0)
    return np.clip(np.concatenate([1 - some.sum(axis=-1, keepdims=True), some], axis=-1), 0.0, 1.0)


def _by_class(pcs, wear, n_classes):
    """Pieces of each kind and class: (n_kinds, n_classes)."""
    together = np.zeros((n_classes, pcs.shape[1]))
    np.add.at(together, wear, pcs)
    return together.T

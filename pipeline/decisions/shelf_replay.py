"""The believed shop replayed under a reorder rule: which jobs wait and how long, the worth of the shelf, freight."""

from dataclasses import dataclass, replace

import numpy as np

from pipeline.decisions import seed, shelf_rules, stock_rules
from pipeline.kernels import shop_replay
from pipeline.models import shop_draws

WARM_DAYS = 203  # the opening shelf has been worked off by then
YEAR_DAYS = 365
STILL_WAITING_DAYS = 60.0  # counted for a job that waits on the last day: about what the slowest vendors take
MOST_TIMES_DEARER = 4096.0
SEARCH_RUNS, SEARCH_YEARS, SEARCH_STEPS, SEARCH_PARTS = 4, 1, 6, 400
WITHIN = 0.03  # of the cash limit: near enough


@dataclass(frozen=True)
class Shop:
    """Jobs and supply to replay; every rule meets the same.

    Attributes
    ----------
    jobs : pipeline.kernels.shop_replay.ReplayJobs
    supply : pipeline.kernels.shop_replay.Supply
    n_days : int
        Days, the first ``WARM_DAYS`` of which do not count.
    is_counted : numpy.ndarray of bool, shape (n_jobs,)
        Torn down in the days that count.
    draws : pipeline.models.shop_draws.ShopDraws or None
        The beliefs behind the jobs; None where they are no beliefs.
    """

    jobs: shop_replay.ReplayJobs
    supply: shop_replay.Supply
    n_days: int
    is_counted: np.ndarray
    draws: shop_draws.ShopDraws | None = None

    @property
    def n_runs(self):
        """Runs side by side."""
        return self.supply.lead_days.shape[0]


def believed_shop(shelf, facts, n_runs, n_years, rng=None):
    """Draw the shop as the fitted models believe it to be, parts ordered ahead only.

    Parameters
    ----------
    shelf : pipeline.decisions.shelf_rules.Shelf
    facts : pipeline.decisions.stock_facts.StockFacts
    n_runs, n_years : int
        Runs, and years that count.
    rng : numpy.random.Generator, optional
        Default the decisions' one seed.

    Returns
    -------
    Shop
        Needs of scarce and ended parts, and of those kept off the shelf, are left out: no reorder rule serves them.
    """
    rng = rng or seed.generator()
    n_days = WARM_DAYS + n_years * YEAR_DAYS
    draws = shop_draws.ShopDraws(facts.use, shelf.kinds, n_runs, rng)
    jobs = draws.jobs(n_days)
    jobs.need_pcs[:, ~shelf.is_ahead] = 0
    n_reviews = -(-n_days // shelf_rules.REVIEW_DAYS)
    lead = shop_draws.lead_days(facts.lead_times, shelf.vendors, stock_rules.UNKNOWN_LEAD_DAYS, n_runs, n_reviews, rng)
    return shop(jobs, supply(shelf, facts.terms, lead), n_days, draws)


def shop(jobs, supply, n_days, draws=None):
    """Jobs and supply as a :class:`Shop`."""
    is_counted = (jobs.teardown_day >= WARM_DAYS) & (jobs.teardown_day < n_days)
    return Shop(jobs, supply, n_days, is_counted, draws)


def supply(shelf, terms, lead_days):
    """Vendors of a shelf as the replay wants them.

    Parameters
    ----------
    shelf : pipeline.decisions.shelf_rules.Shelf
    terms : pandas.DataFrame
        View ``vendor_terms``.
    lead_days : numpy.ndarray of int, shape (n_runs, n_vendors, n_reviews)

    Returns
    -------
    pipeline.kernels.shop_replay.Supply
    """
    of_vendor = terms.set_index("vendor").reindex(shelf.vendors)
    freight = of_vendor["freight_flat"].astype(float).fillna(of_vendor["mean_freight_amount"].astype(float))
    free_over = of_vendor["freight_free_over"].astype(float)
    return shop_replay.Supply(
        shelf.vendor, shelf.pack_pcs, np.where(shelf.is_ahead, shelf.price, 0.0), lead_days,
        freight.fillna(0.0).to_numpy(), free_over.fillna(np.inf).to_numpy())


def run(shop, rule, keep_shelves=False):
    """Replay a shop (:class:`pipeline.kernels.shop_replay.Replay`)."""
    return shop_replay.replay(shop.jobs, shop.supply, rule, shop.n_days, WARM_DAYS, keep_shelves)


def wait_days(found):
    """Days each job waited; one that still waits counts as ``STILL_WAITING_DAYS``."""
    return np.nan_to_num(found.wait_days, nan=STILL_WAITING_DAYS)


def _every_so_many(shelf):
    """The shelf with no more parts ordered ahead than a search can replay, each worth those it stands for."""
    ahead = np.flatnonzero(shelf.is_ahead)
    step = -(-ahead.size // SEARCH_PARTS)
    if step <= 1:
        return shelf
    money = shelf.price * (shelf.kinds.per_day @ shelf.kinds.expected_pcs)
    ranked = ahead[np.argsort(-money[ahead], kind="stable")]
    stands = np.zeros(shelf.is_ahead.size)
    for start in range(0, ranked.size, step):
        block = ranked[start: start + step]
        stands[block[block.size // 2]] = block.size
    return replace(shelf, is_ahead=stands > 0, price=shelf.price * stands)


def within_cash(shelf, facts, limit_amount):
    """How many times dearer a place on the shelf must be reckoned for the average shelf to stay within a limit.

    Parameters
    ----------
    shelf : pipeline.decisions.shelf_rules.Shelf
    facts : pipeline.decisions.stock_facts.StockFacts
    limit_amount : float
        Money.

    Returns
    -------
    times_dearer, shelf_amount : float
        1 where the limit does not bind.

    Notes
    -----
    One price of cash for all parts: each gives up pieces in the order in which a unit of money buys the least
    readiness. The average is that of the believed shop, replayed; of a large shop every so many parts are, in the
    order of what they take in money, and stand for the others.
    """
    shelf = _every_so_many(shelf)
    drawn = believed_shop(shelf, facts, SEARCH_RUNS, SEARCH_YEARS)

    def amount_at(log_times):
        return float(run(drawn, shelf_rules.marginal(shelf, np.exp(log_times), SEARCH_RUNS)).shelf_amount.mean())

    low, low_amount = 0.0, amount_at(0.0)
    if low_amount <= limit_amount:
        return 1.0, low_amount
    high = np.log(MOST_TIMES_DEARER)
    high_amount = amount_at(high)
    if high_amount >= limit_amount:
        return MOST_TIMES_DEARER, high_amount
    for _ in range(SEARCH_STEPS):
        middle = np.interp(limit_amount * (1 - WITHIN / 2), [high_amount, low_amount], [high, low])
        middle = float(np.clip(middle, low + 0.1 * (high - low), high - 0.1 * (high - low)))
        amount = amount_at(middle)
        if amount > limit_amount:
            low, low_amount = middle, amount
        else:
            high, high_amount = middle, amount
            if amount >= limit_amount * (1 - WITHIN):
                break
    return float(np.exp(high)), high_amount

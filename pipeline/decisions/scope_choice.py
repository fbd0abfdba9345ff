"""The scope between fixing only and thorough: cheapest in all, call-backs counted, at a stated chance of none."""

import copy
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import logsumexp, softmax

from pipeline.decisions import scope_costs, scope_plan, scope_rows, scope_waits
from pipeline.decisions.scope_frontier import Frontier, joined, row_weights
from pipeline.decisions.scope_hours import bench_hours, line_hours
from pipeline.decisions.scope_outlook import KIND, NEW
from pipeline.decisions.scope_prospect import ends, prospect
from pipeline.kernels import scope_hull, scope_target
from pipeline.kernels.scope_items import Actions, items

STEPS = np.array([-0.002, 0.0, 0.002, 0.005, 0.01])  # about the chance asked: the whole belief thinks otherwise


class Choice:
    """All scopes of one machine under stated terms.

    Parameters
    ----------
    shop : pipeline.decisions.scope_shop.Shop
    subject : pipeline.decisions.scope_subject.Subject
    hours : pipeline.decisions.scope_hours.FamilyHours
    asked : pipeline.decisions.scope_costs.Terms
    """

    def __init__(self, shop, subject, hours, asked):
        self._shop, self._subject, self._hours = shop, subject, hours
        self.lines = scope_costs.priced_lines(shop, subject)
        self.fix = scope_plan.fix_only(self.lines)
        self.thorough = scope_plan.thorough(shop, subject, self.lines)
        self.rows = scope_rows.rows(shop, subject, self.lines)
        self.other_calls = other_calls(shop, self.fix, self.thorough)
        warranty = prospect(shop, subject, self.lines, subject.warranty_days)
        self._log_quiet = _by_row(warranty.log_survival, warranty.wear, self.rows)
        self._log_quiet_new = warranty.total(warranty.log_survival, _new_only(self.fix), np.ones(len(self.lines)))
        self._price(asked)

    def under(self, asked):
        """The same machine under other terms.

        Parameters
        ----------
        asked : pipeline.decisions.scope_costs.Terms

        Returns
        -------
        Choice
        """
        other = copy.copy(self)
        other._price(asked)
        return other

    def _price(self, asked):
        shop, hours = self._shop, self._hours
        self.lines = scope_costs.priced_lines(shop, self._subject, asked)
        years = prospect(shop, self._subject, self.lines, ends(self._subject, asked.horizon_days)[1])
        self._fixed = _constant(shop, years, self.lines, self.fix, hours)
        call = self.lines["call_amount"].to_numpy()[self.rows.table["line"]]
        wear = years.wear[self.rows.table["line"]]
        self.later = (self.rows.pcs * years.expected.mean(axis=0).T[wear]).sum(axis=1) * call
        own = self.rows.table
        self.now = own["parts_amount"].to_numpy() + own["hours"].to_numpy() * shop.hour_cost
        self._replaced = np.zeros((len(own), len(self.lines)))
        is_new = own["action"].isin(["replace", "make"]).to_numpy()
        self._replaced[np.arange(len(own)), own["line"]] = np.where(is_new, own["pcs"], 0.0)
        self._set_openings(shop, hours, asked)

    def _set_openings(self, shop, hours, asked):
        """What opening each assembly beyond fixing costs now, unseen hours included, and the calls it brings."""
        closed = (scope_plan.copies_of(self.lines) - self.fix.opened).clip(lower=0.0)
        each = scope_costs.opening_hours(self.lines) + hours.unseen_ratio * bench_hours(self.lines)
        self.closed = closed.where(closed.index != "", 0.0)
        self.open_now = (each * self.closed).to_numpy() * shop.hour_cost
        self._other_amount = scope_costs.other_call_amount(shop, asked)

    def frontier(self, quiet_shares=()):
        """Scopes on the lower hull, and the exact optimum at each stated chance of no call-back.

        The choice is separable only at fixed lives: lives are held at what the belief, weighed by how quiet the chosen
        scope would be under each draw, makes of them (the gradient of the chance); every finalist is then scored under
        the whole belief. Where a part would keep an open job waiting longer than fixing does, scopes without such parts
        are finalists, too: the wait is one for the whole machine, and no line's own.

        Parameters
        ----------
        quiet_shares : array_like of float
            Chances, 0 to 1.

        Returns
        -------
        Frontier
        """
        if self.rows.table.empty:  # nothing is listed that could be done beyond fixing
            return self._scored(np.zeros((1, 0)), np.zeros((1, 0)), np.zeros((1, self.closed.size), dtype=bool))
        weight = np.full(len(self._log_quiet), 1 / len(self._log_quiet))
        found = self._finalists(self._items(weight), (), weight)
        middle = found.towards(np.max(quiet_shares, initial=0.0))
        weight = softmax(self._log_quiet_of(found.weights, found.is_open)[middle])
        found = self._finalists(self._items(weight), quiet_shares, weight)
        is_slow = self._is_slow
        if is_slow.any():
            found = joined(found, self._finalists(self._items(weight, ~is_slow), quiet_shares, weight))
        return found

    def _finalists(self, made, quiet_shares, weight):
        """Hull and exact optima at the chances asked, scored under the whole belief."""
        found = self._scored_of(made, scope_hull.hull(made))
        if not np.size(quiet_shares):
            return found
        asked = scope_target.cheapest(made, self._targets(quiet_shares, weight))
        return joined(found, self._scored_of(made, asked))

    def _targets(self, quiet_shares, weight):
        """Log chances to ask of the fixed lives so that the whole belief gives the stated chance."""
        keep = np.zeros((1, len(self.rows.table)))
        keep[0, _first(self.rows.table["portion"])] = 1.0
        whole = self._log_quiet_of(keep, np.zeros((1, self.closed.size), bool))[0]
        constant = float(weight @ self._base)
        gap = float(logsumexp(whole) - np.log(whole.size) - weight @ whole)
        asked = np.log(np.maximum(np.asarray(quiet_shares, dtype=float), 1e-12))
        return (asked[:, None] + STEPS).ravel() - gap - constant

    @property
    def _base(self):
        return self._log_quiet_new - self.other_calls[:, 0]

    @property
    def _is_slow(self):
        """Rows that alone would keep an open job waiting for a part longer than fixing does."""
        fix = self.fix.replaced_pcs
        wait = scope_waits.wait_days(self._subject, self.lines, np.concatenate([fix[None], fix + self._replaced]))
        return wait[1:] > wait[0]

    def _items(self, weight, is_allowed=True):
        table = self.rows.table
        per_copy = self.other_calls[:, 1] * self.closed.to_numpy()[:, None]
        assembly, _ = pd.factorize(self.lines["assembly"].fillna(""), sort=True)
        actions = Actions(
            line=table["portion"].to_numpy(dtype=int),
            amount=self.now + self.later,
            log_quiet=np.minimum(weight @ self._log_quiet, 0.0),
            is_opening=(table["action"] != "keep").to_numpy(),
            replaced_share=table["replaced_share"].to_numpy(dtype=float),
            is_offered=table["is_offered"].to_numpy(dtype=bool) & is_allowed,
            is_whole_replacement=table["is_whole"].to_numpy(dtype=bool),
            assembly=assembly[self.rows.line],
        )
        open_amount = self.open_now + per_copy.mean(axis=1) * self._other_amount
        return items(actions, self.rows.companions, open_amount, -(per_copy @ weight))

    def _log_quiet_of(self, weights, is_open):
        opened = is_open @ self.closed.to_numpy()
        return self._base + weights @ self._log_quiet.T - opened[:, None] * self.other_calls[:, 1]

    def _scored_of(self, made, scopes):
        return self._scored(*row_weights(made, scopes.taken, self.rows.table), scopes.is_open)

    def _scored(self, weights, along, is_open):
        quiet = np.exp(self._log_quiet_of(weights, is_open)).mean(axis=1)
        calls = (is_open @ self.closed.to_numpy()) * self.other_calls[:, 1].mean()
        later = weights @ self.later + self._fixed.later + (calls + self.other_calls[:, 0].mean()) * self._other_amount
        wait = scope_waits.wait_days(self._subject, self.lines, self.fix.replaced_pcs + weights @ self._replaced)
        now = weights @ self.now + is_open @ self.open_now + self._fixed.now
        now += wait * self._shop.settings.bay_cost_per_day
        table = pd.DataFrame({"quiet_share": quiet, "now_amount": now, "later_amount": later,
                              "total_amount": now + later})
        return Frontier(table, weights, along, is_open)

    def other_calls_of(self, plan):
        """Expected calls without a part inside the warranty under a plan: (n_draws,)."""
        more = float((plan.opened - self.fix.opened).clip(lower=0.0).sum())
        return self.other_calls[:, 0] + more * self.other_calls[:, 1]

    def plan(self, frontier, place):
        """What becomes of every piece under one scope of the frontier.

        Parameters
        ----------
        frontier : Frontier
        place : int
            Row of its table.

        Returns
        -------
        pipeline.decisions.scope_plan.Plan
        """
        weight, is_open = frontier.weights[place], frontier.is_open[place]
        pcs, table = _new_only(self.fix), self.rows.table
        np.add.at(pcs, table["line"].to_numpy(), weight[:, None] * self.rows.pcs)
        is_along = frontier.along[place] > 0
        own = table[(weight > scope_rows.LEAST_PCS) & (table["pcs"] > 0).to_numpy()]
        share = weight[own.index]
        # a part without a price may come along: the choice counts its work alone, and its amount is unknown
        is_unpriced = (own["action"] == "replace") & self.lines["unit_price"].isna().to_numpy()[own["line"]]
        moves = own[["line", "action", "note"]].assign(
            pcs=own["pcs"] * share, parts_amount=(own["parts_amount"] * share).mask(is_unpriced),
            hours=own["hours"] * share,
            note=np.where(is_along[own.index], scope_plan.ALONG, own["note"]))
        more = self.closed * is_open
        return scope_plan.Plan(
            pcs, pd.concat([self.fix.moves, moves], ignore_index=True), self.fix.opened + more, more)


def other_calls(shop, fix, thorough):
    """Calls without a part inside the warranty: of fixing only, and for each assembly opened beyond it.

    Returns
    -------
    ndarray of float, shape (n_draws, 2)
    """
    by_scope = shop.other_call_draws
    more = max(float((thorough.opened - fix.opened).clip(lower=0.0).sum()), 1.0)
    return np.stack([by_scope[:, 0], np.maximum(by_scope[:, 2] - by_scope[:, 0], 0.0) / more], axis=1)


@dataclass(frozen=True)
class _Constant:
    """What every scope shares: fixing's own cost, and the later cost of its new pieces."""

    now: float
    later: float


def _constant(shop, years, lines, fix, hours):
    clock = hours.start_hours + line_hours(lines, fix)
    later = years.total(years.expected, _new_only(fix), lines["call_amount"].to_numpy())
    return _Constant(float(fix.moves["parts_amount"].sum()) + clock * shop.hour_cost, float(later.mean()))


def _new_only(plan):
    pcs = np.zeros_like(plan.pcs)
    pcs[:, KIND[NEW, ""]] = plan.pcs[:, KIND[NEW, ""]]
    return pcs


def _by_row(values, wear, rows):
    """Sum of ``values`` (n_draws, n_kinds, n_classes) over the pieces that each row leaves: (n_draws, n_rows)."""
    return np.einsum("dkr,rk->dr", values[:, :, wear[rows.table["line"]]], rows.pcs)


def _first(portion):
    return np.unique(portion.to_numpy(dtype=int), return_index=True)[1]

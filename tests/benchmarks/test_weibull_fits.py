"""Many small censored lives at once beside general-purpose libraries of reliability statistics.

Run with `python3 -m pipeline test -m bench tests/benchmarks` once the packages of the bench tier are there. Libraries
that are not installed are skipped by name; the lock of the bench tier holds the first of them.
"""

import contextlib
import importlib
import io
import warnings

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.kernels.weibull import weibull_fit
from tests.support.processor_time import processor_seconds

GROUPS, REFEREED = 5000, 60
LEAST_RATIO = 1000  # times the processor time of the fastest library, each fit with its standard errors
LARGEST_SHAPE = 100.0  # no life on a bench is that sharp: a library that returns more has run off

pytestmark = pytest.mark.bench


def watched_lives(rng):
    """Groups of 5 to 60 pieces, about 60 % of them still running when the watch ends."""
    sizes = rng.integers(5, 61, GROUPS)
    group = np.repeat(np.arange(GROUPS), sizes)
    life = 100 * rng.weibull(1.4, group.size)
    watch = 100 * rng.uniform(0.05, 1.25, group.size)
    return np.minimum(life, watch), life <= watch, group


def log_likelihood(time, is_failed, scale, shape):
    z = time / scale
    return np.sum(is_failed * (np.log(shape / scale) + (shape - 1) * np.log(z)) - z**shape)


def _lifelines(library, time, is_failed):
    fit = library.WeibullFitter().fit(time, is_failed)
    return fit.lambda_, fit.rho_, *np.sqrt(np.diag(fit.variance_matrix_))


def _surpyval(library, time, is_failed):
    fit = library.Weibull.fit(time, (~is_failed).astype(int))
    return *fit.params, *np.sqrt(np.diag(fit.hess_inv))


def _reliability(library, time, is_failed):
    fit = importlib.import_module("reliability.Fitters").Fit_Weibull_2P(
        time[is_failed], time[~is_failed], show_probability_plot=False, print_results=False
    )
    return fit.alpha, fit.beta, fit.alpha_SE, fit.beta_SE


FITS = {"lifelines": _lifelines, "surpyval": _surpyval, "reliability": _reliability}


@contextlib.contextmanager
def _in_peace():
    """Without a library's deprecations and remarks: they are not ours to mend."""
    with warnings.catch_warnings(), contextlib.redirect_stdout(io.StringIO()), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")
        yield


def _fitter(name):
    """A library's fit of one group: scale, shape and their standard errors. Skips where it is not installed."""
    with _in_peace():
        library = pytest.importorskip(name, reason=f"{name} is not installed")
    return lambda time, is_failed: FITS[name](library, time, is_failed)


class Watched:
    """All groups with our fits of them, and which of them a library is asked for."""

    def __init__(self):
        self.time, self.is_failed, self.group = watched_lives(np.random.default_rng(20261125))
        self.fit, self.seconds = processor_seconds(self._fit, repeats=5)
        self.is_fitted = self.fit.reason == ""

    def _fit(self):
        return weibull_fit(self.time, self.is_failed, self.group, GROUPS)

    def lives(self, one):
        rows = self.group == one
        return self.time[rows], self.is_failed[rows]

    def refereed(self):
        """Groups that every library fits."""
        return np.flatnonzero(self.is_fitted & (self.fit.failures >= 2))[:REFEREED]

    def with_one_failure(self):
        return np.flatnonzero(self.is_fitted & (self.fit.failures == 1))

    def without_maximum(self):
        return np.flatnonzero(~self.is_fitted)


@pytest.fixture(scope="module")
def watched():
    return Watched()


def _seconds_a_group(fitter, watched):
    lives = [watched.lives(one) for one in watched.refereed()]
    with _in_peace():
        fitter(*lives[0])  # what a library readies at its first call is not held against it
        return processor_seconds(lambda: [fitter(*one) for one in lives])[1] / len(lives)


def test_a_thousand_times_the_fastest_library(watched):
    seconds, absent = {}, []
    for name in FITS:
        try:
            seconds[name] = _seconds_a_group(_fitter(name), watched)
        except pytest.skip.Exception as missing:
            absent.append(str(missing))
    if not seconds:
        pytest.skip("; ".join(absent))
    fastest = min(seconds, key=seconds.get)
    ratio = seconds[fastest] / (watched.seconds / GROUPS)
    there = ", ".join(f"{name} {1000 * each:.1f} ms" for name, each in seconds.items())
    print(f"{GROUPS} groups in {watched.seconds:.3f} s here; a group there: {there}; {ratio:,.0f} times {fastest}")
    print("; ".join(absent))
    assert ratio >= LEAST_RATIO


@pytest.mark.parametrize("name", FITS)
def test_equal_likelihoods_and_standard_errors(watched, name):
    fitter, ours = _fitter(name), watched.fit
    for one in watched.refereed():
        lives = watched.lives(one)
        with _in_peace():
            scale, shape, scale_error, shape_error = fitter(*lives)
        best, theirs = ours.log_likelihood[one], log_likelihood(*lives, scale, shape)
        assert_allclose(best, log_likelihood(*lives, ours.scale[one], ours.shape[one]), rtol=1e-12)
        assert best >= theirs - 1e-9  # nobody finds a higher point
        assert_allclose(best, theirs, rtol=1e-6)
        assert_allclose(ours.log_scale_error[one] * ours.scale[one], scale_error, rtol=2e-3)
        assert_allclose(ours.log_shape_error[one] * ours.shape[one], shape_error, rtol=2e-3)


def _answer(fitter, lives):
    """What a library makes of a group: ``refused``, ``no finite shape`` or ``fitted``."""
    with _in_peace():
        try:
            scale, shape, *_ = fitter(*lives)
        except Exception:  # each library refuses in its own words
            return "refused"
    return "fitted" if np.isfinite([scale, shape]).all() and shape < LARGEST_SHAPE else "no finite shape"


@pytest.mark.parametrize("name", FITS)
def test_a_library_returns_garbage_or_refuses_what_has_a_maximum(watched, name):
    fitter = _fitter(name)
    unbounded, single = watched.without_maximum(), watched.with_one_failure()
    garbage = [_answer(fitter, watched.lives(one)) for one in unbounded]
    refused = [_answer(fitter, watched.lives(one)) for one in single]
    print(
        f"{name}: of {unbounded.size} groups without a finite maximum {garbage.count('refused')} refused and "
        f"{unbounded.size - garbage.count('refused')} given a number; of {single.size} groups of one failure "
        f"{refused.count('refused')} refused"
    )
    assert garbage.count("refused") < unbounded.size or refused.count("refused") > 0


def test_no_false_answers_here(watched):
    fit, failed = watched.fit, watched.is_failed
    longest = np.zeros(GROUPS)
    np.maximum.at(longest, watched.group, watched.time)
    # by the definition, group for group: a maximum exists if and only if a failure came before the longest watch
    is_early = np.bincount(watched.group, failed & (watched.time < longest[watched.group]), GROUPS) > 0
    has_failed = np.bincount(watched.group, failed, GROUPS) > 0
    wanted = np.where(~has_failed, "no failures", np.where(is_early, "", "no finite maximum"))
    assert fit.reason.tolist() == wanted.tolist()
    assert {"no failures", "no finite maximum"} <= set(wanted)
    assert np.isnan(fit.shape[~watched.is_fitted]).all()
    named = {word: int((wanted == word).sum()) for word in ("no failures", "no finite maximum")}
    print(f"{GROUPS} groups, {1 - failed.mean():.1%} censored: {named}, the others fitted")


def test_groups_of_one_failure_are_fitted_at_their_maximum(watched):
    single = watched.with_one_failure()
    assert single.size > 50
    for one in single:
        lives, scale, shape = watched.lives(one), watched.fit.scale[one], watched.fit.shape[one]
        best = log_likelihood(*lives, scale, shape)
        around = [log_likelihood(*lives, scale * s, shape * k) for s in (0.999, 1, 1.001) for k in (0.999, 1, 1.001)]
        assert best >= max(around) - 1e-12
        assert np.isfinite([watched.fit.log_scale_error[one], watched.fit.log_shape_error[one]]).all()


def test_every_fit_is_at_the_maximum_to_a_billionth(watched):
    # the profile likelihood's slope in log shape, over its curvature: how far the maximum is, in log shape
    time, failed, group = watched.time, watched.is_failed, watched.group
    shape, log_time = watched.fit.shape, np.log(time)
    with np.errstate(divide="ignore", invalid="ignore"):
        power = np.exp(shape[group] * (log_time - np.log(watched.fit.scale)[group]))
        total, first, second = (np.bincount(group, power * log_time**n, GROUPS) for n in range(3))
        mean_log = np.bincount(group, failed * log_time, GROUPS) / np.bincount(group, failed, GROUPS)
        slope = 1 / shape + mean_log - first / total
        curvature = (second / total - (first / total) ** 2) * shape + 1 / shape
    assert np.abs(slope / curvature)[watched.is_fitted].max() < 1e-9
    assert_allclose(total[watched.is_fitted], watched.fit.failures[watched.is_fitted], rtol=1e-9)

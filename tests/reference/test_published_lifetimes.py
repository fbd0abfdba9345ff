"""Lifetimes against published numbers.

The letter beside each check says where the printed figure comes from: Q read on the cited page, P shipped
in a registry package that was read, M recalled from the cited book and reproduced to every printed digit,
D derived from the citation and checked by two independent computations.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.kernels.lognormal_life import lognormal_fit
from pipeline.kernels.mean_cumulative import mean_cumulative
from pipeline.kernels.product_limit import product_limit
from pipeline.kernels.renewal_function import expected_failures, weibull_renewals
from pipeline.kernels.weibull import mean_and_sd, survival, weibull_fit
from pipeline.kernels.weibull_posterior import weibull_posterior

# NIST/SEMATECH e-Handbook of Statistical Methods, section 8.4.1.3: ten failures, ten units censored at 500.
HANDBOOK_TIME = np.array([54, 187, 216, 240, 244, 335, 361, 373, 375, 386] + [500] * 10, dtype=float)
HANDBOOK_FAILED = np.array([True] * 10 + [False] * 10)

# Diesel generator fans, Nelson (1982), Applied Life Data Analysis, p. 133: hours, failed, fans.
FANS = np.array(
    [
        (450, 1, 1),
        (460, 0, 1),
        (1150, 1, 2),
        (1560, 0, 1),
        (1600, 1, 1),
        (1660, 0, 1),
        (1850, 0, 5),
        (2030, 0, 3),
        (2070, 1, 2),
        (2080, 1, 1),
        (2200, 0, 1),
        (3000, 0, 4),
        (3100, 1, 1),
        (3200, 0, 1),
        (3450, 1, 1),
        (3750, 0, 2),
        (4150, 0, 4),
        (4300, 0, 4),
        (4600, 1, 1),
        (4850, 0, 4),
        (5000, 0, 3),
        (6100, 1, 1),
        (6100, 0, 3),
        (6300, 0, 1),
        (6450, 0, 2),
        (6700, 0, 1),
        (7450, 0, 1),
        (7800, 0, 2),
        (8100, 0, 2),
        (8200, 0, 1),
        (8500, 0, 3),
        (8750, 1, 1),
        (8750, 0, 2),
        (9400, 0, 1),
        (9900, 0, 1),
        (10100, 0, 3),
        (11500, 0, 1),
    ],
    dtype=float,
)


def test_handbook_weibull_fit():
    # A-L1 [Q]. The page's scale differs from the true optimum in the seventh figure: tolerance 0.001.
    fit = weibull_fit(HANDBOOK_TIME, HANDBOOK_FAILED)
    mean, sd = mean_and_sd(fit.scale, fit.shape)
    assert_allclose(fit.scale, 606.5280, atol=1e-3)
    assert_allclose(fit.shape, 1.7208, atol=5e-5)
    assert_allclose(mean, 540.737, atol=1e-3)
    assert_allclose(sd, 323.806, atol=1e-3)
    assert_allclose(-fit.log_likelihood, 75.135, atol=5e-4)
    assert_allclose(4 - 2 * fit.log_likelihood, 154.27, atol=5e-3)  # Akaike's criterion, two parameters


def test_handbook_lognormal_fit():
    # A-L1 [Q]: Akaike's criterion 154.39, so the Weibull is preferred by a hair.
    fit = lognormal_fit(HANDBOOK_TIME, HANDBOOK_FAILED)
    assert_allclose(4 - 2 * fit.log_likelihood, 154.39, atol=5e-3)


def test_handbook_standard_errors():
    # A-L1 [P]: accelerated-failure-time regression of a statistics package on the same data: error of
    # the intercept .2059439, of log(scale) .2918128 (its scale is one over our shape).
    fit = weibull_fit(HANDBOOK_TIME, HANDBOOK_FAILED)
    assert_allclose(fit.log_scale_error, 0.2059439, atol=5e-7)
    assert_allclose(fit.log_shape_error, 0.2918128, atol=5e-7)


def test_handbook_posterior_meets_the_fit_as_the_prior_fades():
    # A-L1 [Q]: with priors hundreds of log units wide the top of the posterior is the printed fit.
    believed = weibull_posterior(
        HANDBOOK_TIME, HANDBOOK_FAILED, [[50.0, 300.0, 4.0, 100.0]], n_medians=401, n_shapes=401
    )
    row, column = np.unravel_index(believed.probability[0].argmax(), believed.probability[0].shape)
    assert_allclose(np.exp(believed.log_median[0, row]), 606.528 * np.log(2) ** (1 / 1.7208), rtol=5e-3)
    assert_allclose(np.exp(believed.log_shape[0, column]), 1.7208, rtol=1e-2)
    assert believed.prior_weight_share < 1e-5


def test_fans_are_the_published_data():
    # A-L3: 70 fans, 12 failures, 344,440 hours.
    hours, is_failed, fans = FANS.T
    assert fans.sum() == 70
    assert (fans * is_failed).sum() == 12
    assert (fans * hours).sum() == 344_440


def test_fans_fits():
    # A-L3 [M]: Nelson (1982); Meeker & Escobar (1998), Statistical Methods for Reliability Data.
    hours, is_failed, fans = FANS.T
    weibull, lognormal = (fit(hours, is_failed > 0, pieces=fans) for fit in (weibull_fit, lognormal_fit))
    assert_allclose([weibull.shape[0], weibull.scale[0]], [1.058, 26297], rtol=5e-4)
    assert_allclose([lognormal.log_mean[0], lognormal.log_sd[0]], [10.14, 1.68], atol=5e-3)
    assert_allclose((fans * hours).sum() / 12, 28703, atol=0.5)  # exponential mean, by hand


def test_fans_product_limit():
    # A-L3 [P]: Kaplan-Meier of a statistics package on the same data.
    hours, is_failed, fans = FANS.T
    event_time, share = product_limit(hours, is_failed > 0, fans)
    assert_array_equal(event_time, [450, 1150, 1600, 2070, 2080, 3100, 3450, 4600, 6100, 8750])
    printed = [
        0.985714,
        0.956723,
        0.942004,
        0.907749,
        0.890622,
        0.871672,
        0.852302,
        0.827234,
        0.795418,
        0.707038,
    ]
    assert_allclose(share, printed, atol=5e-7)


def test_product_limit_reproduces_the_6mp_remission_curve():
    # A-L4 [M + P]: Freireich et al. (1963), Blood 21, 699-716: 21 children on 6-MP, weeks in remission.
    # By hand: 18/21, x16/17, x14/15, x11/12, x10/11, x6/7, x5/6, to three decimals.
    relapsed = [6, 6, 6, 7, 10, 13, 16, 22, 23]
    in_remission = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
    weeks, share = product_limit(relapsed + in_remission, [True] * 9 + [False] * 12)
    assert_array_equal(weeks, [6, 7, 10, 13, 16, 22, 23])
    assert_allclose(share, [0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448], atol=5e-4)


def _numeric(time, cdf, steps=4096):
    end = time * np.arange(1, steps + 1) / steps
    middle = time * (np.arange(steps) + 0.5) / steps
    return expected_failures(cdf(end), 1 - cdf(middle))[-1]


def test_renewal_functions_with_closed_forms():
    # A-L7 [D]: Cox (1962), Renewal Theory.
    assert_allclose(_numeric(3.0, lambda t: 1 - np.exp(-t)), 3.0, atol=1e-6)
    # Erlang-2 of rate 1: M(t) = t/2 - (1 - e^-2t)/4, so M(2) = .7545789
    assert_allclose(_numeric(2.0, lambda t: 1 - (1 + t) * np.exp(-t)), 0.7545789, atol=1e-6)
    # uniform on 0 to 1: M(t) = e^t - 1, so M(1) = 1.7182818
    assert_allclose(_numeric(1.0, lambda t: np.minimum(t, 1.0)), 1.7182818, atol=1e-6)


@pytest.mark.parametrize(
    ("shape", "time", "printed"),
    [(1.5, 1, 0.841578), (2, 0.5, 0.230794), (2, 1, 0.753691), (2, 2, 1.894039), (3, 1, 0.672329)],
)
def test_weibull_renewal_function(shape, time, printed):
    # A-L8 [D]: Smith & Leadbetter (1963), Technometrics 5, 393-396, series in 200 digits; Xie (1989).
    assert_allclose(weibull_renewals(time, 1.0, shape), printed, atol=1e-6)


def test_part_already_aged():
    # A-L14 [P]: scale 365, shape 2, age 224, next 82 days: chance .2784, expected failures .283.
    assert_allclose(1 - survival(82.0, 365.0, 2.0, age=224.0), 0.2784, atol=5e-5)
    assert_allclose(weibull_renewals(82.0, 365.0, 2.0, age=224.0), 0.283, atol=5e-4)


def test_mean_cumulative_function():
    # A-L9 [P/Q]: documentation of a reliability package; each system's last time ends its watch.
    systems = [[5, 10, 15, 17], [6, 13, 17, 19], [12, 20, 25, 26], [13, 15, 24], [16, 22, 25, 28]]
    event_time = np.concatenate([times[:-1] for times in systems])
    event_system = np.repeat(np.arange(5), [len(times) - 1 for times in systems])
    time, mean, _ = mean_cumulative(event_time, event_system, [times[-1] for times in systems])
    assert_array_equal(time, [5, 6, 10, 12, 13, 15, 16, 17, 20, 22, 25])
    # the page lists every event; equal times end at the last of their values
    printed = [0.2, 0.4, 0.6, 0.8, 1.2, 1.6, 1.8, 2, 2.33333, 2.66667, 3.66667]
    assert_allclose(mean, printed, atol=5e-6)

"""The equal-share rule's levels: quantiles of what the lead time takes."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal
from scipy.stats import poisson

from pipeline.errors import InvalidParameter
from pipeline.kernels import equal_share

MEANS = np.array([0.1, 0.8, 3.0, 12.0])
LEAD = poisson.pmf(np.arange(80), MEANS[:, None])


@pytest.mark.parametrize("share", [0.5, 0.8, 0.95, 0.995])
def test_levels_are_the_quantiles_of_lead_time_demand(share):
    assert_array_equal(equal_share.levels_for_share(LEAD, share), poisson.ppf(share, MEANS))


@pytest.mark.parametrize(("pmf", "share", "said"), [
    (LEAD, 1.2, "1.2"), (LEAD, -0.1, "-0.1"), (LEAD[:, :3], 0.9, "lengthen the grid")])
def test_arguments_out_of_range_are_refused(pmf, share, said):
    with pytest.raises(InvalidParameter, match=said):
        equal_share.levels_for_share(pmf, share)

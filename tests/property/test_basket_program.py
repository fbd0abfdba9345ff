"""The program finds what counting out every possibility finds."""

import pytest

from pipeline.kernels import basket_program
from tests.support import basket_enumeration


@pytest.mark.parametrize("seed", range(100))
def test_the_program_equals_enumeration(seed):
    shop = basket_enumeration.random_shop(seed)
    found = basket_program.solve(*shop, gap_share=0.0)
    assert found.amount == pytest.approx(basket_enumeration.least_amount(*shop), abs=1e-6)

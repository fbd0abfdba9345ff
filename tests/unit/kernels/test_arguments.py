import numpy as np
import pytest

from pipeline.errors import InvalidParameter
from pipeline.kernels.arguments import group_index, same_length, whole


def test_same_length_names_the_odd_one_out():
    with pytest.raises(InvalidParameter, match="pieces has 3 values, days has 2"):
        same_length(days=[1, 2], pieces=[1, 2, 3])


def test_same_length_refuses_tables():
    with pytest.raises(InvalidParameter, match="days has 2 dimensions"):
        same_length(days=[[1, 2]])


@pytest.mark.parametrize("values", [[1.5], [np.nan], [np.inf], [1e300]])
def test_whole_refuses_what_is_not_a_whole_number(values):
    with pytest.raises(InvalidParameter, match="wanted whole numbers"):
        whole("qty_pcs", values)


def test_whole_refuses_below_its_limit():
    with pytest.raises(InvalidParameter, match="at least 1"):
        whole("qty_pcs", [3, 0], low=1)


def test_group_index_without_groups_puts_all_in_one():
    group, n_groups = group_index(None, 3)
    assert (group.tolist(), n_groups) == ([0, 0, 0], 1)


def test_group_index_counts_empty_groups():
    assert group_index([0, 1], 2, n_groups=5)[1] == 5


def test_group_index_refuses_a_number_beyond_the_groups():
    with pytest.raises(InvalidParameter, match="from 0 to 1"):
        group_index([0, 2], 2, n_groups=2)


def test_group_index_refuses_another_length():
    with pytest.raises(InvalidParameter, match="for 3 rows"):
        group_index([0, 2], 3)

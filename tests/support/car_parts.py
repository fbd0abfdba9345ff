"""Monthly sales of 2,674 car parts, January 1998 to March 2002, from the shared data: real, sparse, spare-parts-like.

Hyndman, Koehler, Ord & Snyder (2008), Forecasting with Exponential Smoothing; CC BY 4.0, doi 10.5281/zenodo.4656022.
"""

from functools import cache
from pathlib import Path

import numpy as np
import pytest

_FILE = Path(__file__).parents[2].parent / "shared" / "data" / "carparts.csv.gz"
needs_car_parts = pytest.mark.skipif(not _FILE.exists(), reason="the car parts set lies in ../shared/data, absent here")


@cache
def every_series():
    """Pieces by month and part (51 by 2674); nan where missing, which is at the end alone."""
    return np.genfromtxt(_FILE, delimiter=",", skip_header=1)[:, -2674:]


def whole_series():
    """The 2,509 series that miss no month."""
    table = every_series()
    return table[:, ~np.isnan(table).any(axis=0)]

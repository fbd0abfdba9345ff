"""Standard-cost variances: why an actual amount differs from the quoted one. Positive = dearer."""

import numpy as np


def price_variance(actual_pcs, actual_price, standard_price):
    """What a different price did: actual quantity x (actual - standard price).

    Parameters
    ----------
    actual_pcs : array_like of float
        Quantity used; the same formula with hours and rates is the labour *rate* variance.
    actual_price, standard_price : array_like of float
        Amount per unit; all broadcast.

    Returns
    -------
    ndarray of float
        Amount; positive where it cost more than the standard.

    References
    ----------
    Garrison, Noreen & Brewer, Managerial Accounting, chapter on standard costs.

    Examples
    --------
    >>> round(float(price_variance(6500, 3.80, 4.00)), 2)
    -1300.0
    """
    return np.asarray(actual_pcs) * (np.asarray(actual_price) - np.asarray(standard_price))


def quantity_variance(actual_pcs, standard_pcs, standard_price):
    """What a different quantity did: (actual - standard quantity) x standard price.

    Parameters
    ----------
    actual_pcs, standard_pcs : array_like of float
        Quantities; the same formula with hours and rates is the labour *efficiency* variance.
    standard_price : array_like of float
        Amount per unit; all broadcast.

    Returns
    -------
    ndarray of float
        Amount; positive where it cost more than the standard.

    References
    ----------
    Garrison, Noreen & Brewer, Managerial Accounting, chapter on standard costs.

    Examples
    --------
    >>> float(quantity_variance(6500, 6000, 4.00))
    2000.0
    """
    return (np.asarray(actual_pcs) - np.asarray(standard_pcs)) * np.asarray(standard_price)


def rate_variance(actual_hours, actual_rate, standard_rate):
    """What a different rate per hour did: actual hours x (actual - standard rate).

    Parameters
    ----------
    actual_hours, actual_rate, standard_rate : array_like of float
        Hours, and amounts per hour.

    Returns
    -------
    ndarray of float
        Amount; positive where it cost more than the standard.

    Examples
    --------
    >>> round(float(rate_variance(1050, 21.60, 22.00)), 2)
    -420.0
    """
    return price_variance(actual_hours, actual_rate, standard_rate)


def efficiency_variance(actual_hours, standard_hours, standard_rate):
    """What more or fewer hours did: (actual - standard hours) x standard rate.

    Parameters
    ----------
    actual_hours, standard_hours, standard_rate : array_like of float
        Hours, and amount per hour.

    Returns
    -------
    ndarray of float
        Amount; positive where it cost more than the standard.

    Examples
    --------
    >>> float(efficiency_variance(1050, 1000, 22.00))
    1100.0
    """
    return quantity_variance(actual_hours, standard_hours, standard_rate)

"""The equal-share rule: every part the same probability of covering its lead time."""

from pipeline.kernels.newsvendor import quantile


def levels_for_share(lead_pmf, share):
    """Smallest stock level per part that covers its lead-time demand with a given chance.

    Parameters
    ----------
    lead_pmf : array_like of float, shape (n_parts, n_values)
        Probability of a demand of 0, 1, 2, ... pieces over the part's lead time.
    share : float
        Chance of covering it, the same for every part, 0 to 1.

    Returns
    -------
    ndarray of int, shape (n_parts,)
        Pieces.

    Raises
    ------
    InvalidParameter
        If the share is outside [0, 1] or the probabilities do not sum to 1.

    Examples
    --------
    >>> levels_for_share([[0.5, 0.4, 0.1], [0.99, 0.01, 0.0]], 0.95)
    array([2, 0])
    """
    return quantile(lead_pmf, share)

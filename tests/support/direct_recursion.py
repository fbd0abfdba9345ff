"""Pieces in a window at fixed parameters by direct recursion: the referee of the compound distributions."""

import numpy as np


def pieces_pmf(share, pieces, known, mean, excess, n_values):
    """Unbooked jobs by the recursion of the (a, b, 0) class, known jobs convolved one by one; rows of one length.

    Panjer (1981), ASTIN Bulletin 12, 22-26: p[n] = sum of (a + b k / n) f[k] p[n - k], k from 1; the uses of a stream
    are in the class with a = e / (1 + e), b = (m - e) / (1 + e), m and e being mean and excess times the share.
    """
    share, mean, excess = (np.asarray(values, dtype=float)[:, None] for values in (share, mean, excess))
    pieces = np.asarray(pieces, dtype=float)
    m, e = mean * share, excess * share
    a, b = e / (1 + e), (m - e) / (1 + e)
    total = np.zeros((len(share), n_values))
    total[:, :1] = np.where(e == 0, np.exp(-m), (1 + e) ** (-m / np.where(e == 0, 1, e)))
    for n in range(1, n_values):
        k = np.arange(1, min(n, pieces.shape[1] - 1) + 1)
        total[:, n] = ((a + b * k / n) * pieces[:, k] * total[:, n - k]).sum(axis=1)
    for chance in np.asarray(known, dtype=float).T:
        used = np.zeros_like(total)
        for k in range(1, min(pieces.shape[1], n_values)):
            used[:, k:] += pieces[:, k : k + 1] * total[:, : n_values - k]
        taken = chance[:, None] * share
        total = (1 - taken) * total + taken * used
    return total

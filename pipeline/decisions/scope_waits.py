"""Days that an open job stands in its bay until the last part it needs has come."""

import numpy as np

LEAST_PCS = 0.5  # a piece that is needed less often than not is not waited for


def wait_days(subject, lines, replaced_pcs):
    """Days until the slowest part that the shelf does not hold is there; reckoned from today, for open jobs only.

    Parameters
    ----------
    subject : pipeline.decisions.scope_subject.Subject
        A typical machine waits for nothing here: what the shelf will hold when it comes is the shelf page's matter.
    lines : pandas.DataFrame
        Priced, with ``on_hand_pcs`` and ``lead_days`` of the part.
    replaced_pcs : ndarray of float, shape (n_scopes, n_lines)
        Pieces replaced under each scope.

    Returns
    -------
    ndarray of float, shape (n_scopes,)
        0 where the shelf holds all. Parts of which nobody knows the stock, or the way to buy them, are left out.
    """
    needed = np.asarray(replaced_pcs, dtype=float)
    if not subject.subject.startswith("job:"):
        return np.zeros(len(needed))
    part, place = np.unique(lines["part"].to_numpy(dtype=str), return_inverse=True)
    of_part = np.zeros((len(needed), part.size))
    np.add.at(of_part.T, place, needed.T)
    first = np.unique(place, return_index=True)[1]
    on_hand, lead = (lines[name].to_numpy(dtype=float)[first] for name in ("on_hand_pcs", "lead_days"))
    is_short = (of_part >= LEAST_PCS) & (of_part > np.maximum(on_hand, 0.0) + 1e-9) & ~np.isnan(on_hand + lead)
    return np.where(is_short, np.nan_to_num(lead), 0.0).max(axis=1, initial=0.0)

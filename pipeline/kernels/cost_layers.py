"""First in, first out: which receipt's cost each use of a part carries, exact to the cent."""

from dataclasses import dataclass

import numpy as np

from pipeline.errors import InvalidParameter, SparebenchError
from pipeline.kernels.arguments import group_index, whole

NEVER_CAME = -1


@dataclass(frozen=True)
class LayerCosts:
    """Who used which layer: one row per stretch of pieces of one layer taken by one issue.

    Attributes
    ----------
    issue, layer : ndarray of int64, shape (n_rows,)
        Indices into what was passed in; ``layer`` is -1 for pieces no receipt has covered yet.
    pcs, cents : ndarray of int64, shape (n_rows,)
        Pieces and their cost as it stands today.
    is_provisional : ndarray of bool, shape (n_rows,)
        True where the pieces were used before the layer came in.
    booked_cents : ndarray of int64, shape (n_rows,)
        Cost as it was known on the day of use; differs from ``cents`` only where provisional.
    is_known : ndarray of bool, shape (n_rows,)
        False where no cost was ever known: ``cents`` is 0 there and must not be read as one.
    layer_left_pcs, layer_left_cents : ndarray of int64, shape (n_layers,)
        What is still on the shelf of each layer.
    """

    issue: np.ndarray
    layer: np.ndarray
    pcs: np.ndarray
    cents: np.ndarray
    is_provisional: np.ndarray
    booked_cents: np.ndarray
    is_known: np.ndarray
    layer_left_pcs: np.ndarray
    layer_left_cents: np.ndarray


@dataclass(frozen=True)
class _Stream:
    """Layers or issues laid end to end per part, so that positions in it are pieces in order."""

    order: np.ndarray
    part: np.ndarray
    day: np.ndarray
    pcs: np.ndarray
    start: np.ndarray
    end: np.ndarray


def fifo(layer_part, layer_day, layer_pcs, layer_cents, issue_part, issue_day, issue_pcs, fallback_cents):
    """Cost every issue by the layers it drew on, oldest first.

    Layers and issues of a part are laid end to end by piece; an issue costs what lies under it. A
    layer's cost up to its x-th piece is ``cents * x / pcs`` rounded half up, and a stretch costs the
    difference, so a layer's cost is given out exactly and its last piece takes the remainder. A use
    before any cover gets a provisional cost, the unit cost of the newest layer then in (else the
    fallback), which the next receipt settles.

    Parameters
    ----------
    layer_part, layer_day, layer_pcs, layer_cents : array_like of int, shape (n_layers,)
        Part number from 0, day, pieces (above 0) and whole cost in cents (at least 0) of what came
        in. Within a part and day, in the order given.
    issue_part, issue_day, issue_pcs : array_like of int, shape (n_issues,)
        Part, day and pieces (above 0) of what went out; on one day, what came in is there first.
    fallback_cents : array_like of float, shape (n_parts,)
        Unit cost in cents where no layer was ever in before a use; not a number = unknown.

    Returns
    -------
    LayerCosts

    Raises
    ------
    InvalidParameter
        If lengths differ, pieces are not above 0 or a cost is negative.

    References
    ----------
    First in, first out: IAS 2 Inventories, paragraphs 25-27.

    Examples
    --------
    >>> costs = fifo([0, 0], [1, 5], [3, 3], [100, 130], [0], [6], [4], [np.nan])
    >>> costs.pcs, costs.cents, costs.layer_left_cents
    (array([3, 1]), array([100,  43]), array([ 0, 87]))
    """
    fallback = np.asarray(fallback_cents, dtype=float)
    cents = whole("layer_cents", layer_cents, low=0)
    layers = _lay_out("layer", layer_part, layer_day, layer_pcs, fallback.size)
    issues = _lay_out("issue", issue_part, issue_day, issue_pcs, fallback.size)
    if cents.shape != layers.pcs.shape:
        raise InvalidParameter(f"layer_cents has {cents.size} values for {layers.pcs.size} layers; wanted one each.")
    cents = cents[layers.order]
    lengths = np.maximum(_total(layers, fallback.size), _total(issues, fallback.size))
    offset = np.concatenate([[0], np.cumsum(lengths)])
    issue, layer, start, end = _intersect(layers, issues, offset)
    is_covered = layer != NEVER_CAME
    found = np.where(is_covered, _between(layers, cents, layer, start, end, offset), 0)
    is_provisional = ~is_covered | (layers.day[layer] > issues.day[issue] if layers.pcs.size else False)
    booked, is_known = _known_then(layers, cents, issues, issue, end - start, fallback)
    found = np.where(is_covered, found, booked)
    left_pcs, left_cents = _left(layers, cents, _total(issues, fallback.size))
    result = LayerCosts(
        issue=issues.order[issue],
        layer=np.where(is_covered, layers.order[layer] if layers.pcs.size else layer, NEVER_CAME),
        pcs=end - start,
        cents=found,
        is_provisional=is_provisional,
        booked_cents=np.where(is_provisional, booked, found),
        is_known=is_covered | is_known,
        layer_left_pcs=_unsort(left_pcs, layers.order),
        layer_left_cents=_unsort(left_cents, layers.order),
    )
    _check_conserved(result, layers, cents, issues)
    return result


def _lay_out(name, part, day, pcs, n_parts):
    pcs = whole(f"{name}_pcs", pcs, low=1)
    part, _ = group_index(part, pcs.size, n_parts)
    day = whole(f"{name}_day", day)
    if day.shape != pcs.shape:
        raise InvalidParameter(f"{name}_day has {day.size} values, {name}_pcs {pcs.size}; wanted one each.")
    order = np.lexsort((np.arange(pcs.size), day, part))
    part, day, pcs = part[order], day[order], pcs[order]
    run = np.cumsum(pcs)
    before = np.concatenate([[0], run])[np.searchsorted(part, part)]
    return _Stream(order, part, day, pcs, run - pcs - before, run - before)


def _total(stream, n_parts):
    total = np.zeros(n_parts, dtype=np.int64)
    np.add.at(total, stream.part, stream.pcs)
    return total


def _intersect(layers, issues, offset):
    """Cut the issues at the ends of layers: stretches in which neither changes."""
    issue_start, issue_end = issues.start + offset[issues.part], issues.end + offset[issues.part]
    layer_start, layer_end = layers.start + offset[layers.part], layers.end + offset[layers.part]
    cuts = np.unique(np.concatenate([issue_start, issue_end, layer_start, layer_end]))
    start, end = cuts[:-1], cuts[1:]
    issue = np.searchsorted(issue_start, start, side="right") - 1
    is_used = (issue >= 0) & (start < issue_end[issue]) if issues.pcs.size else np.zeros(start.size, bool)
    start, end, issue = start[is_used], end[is_used], issue[is_used]
    layer = np.searchsorted(layer_start, start, side="right") - 1
    if layers.pcs.size:
        layer = np.where((layer >= 0) & (start < layer_end[layer]), layer, NEVER_CAME)
    return issue, layer, start, end


def _between(layers, cents, layer, start, end, offset):
    if not layers.pcs.size:
        return np.zeros(layer.size, dtype=np.int64)
    first = layers.start[layer] + offset[layers.part[layer]]
    whole_cents, pcs = cents[layer], layers.pcs[layer]
    return _round(whole_cents * (end - first), pcs) - _round(whole_cents * (start - first), pcs)


def _round(product, divisor):
    """Nearest whole number to product / divisor, half up, in whole-number arithmetic."""
    return (2 * product + divisor) // (2 * divisor)


def _known_then(layers, cents, issues, issue, pcs, fallback):
    """Cost of pieces at the newest layer's unit cost on the day of use, and whether one was known."""
    fallback_then = fallback[issues.part[issue]]
    booked = np.where(np.isnan(fallback_then), 0, np.floor(fallback_then * pcs + 0.5)).astype(np.int64)
    is_known = ~np.isnan(fallback_then)
    if not layers.pcs.size:
        return booked, is_known
    span = max(int(layers.day.max()), int(issues.day.max(initial=0))) + 1
    low = min(int(layers.day.min()), int(issues.day.min(initial=0)))
    layer_key = layers.part * (span - low) + layers.day - low
    issue_key = (issues.part * (span - low) + issues.day - low)[issue]
    newest = np.searchsorted(layer_key, issue_key, side="right") - 1
    is_in = (newest >= 0) & (layers.part[newest] == issues.part[issue])
    at_cost = _round(cents[newest] * pcs, layers.pcs[newest])
    return np.where(is_in, at_cost, booked), is_in | is_known


def _left(layers, cents, issued):
    """What the issues leave of each layer, reckoned from totals: the rows must agree with it."""
    used = np.clip(issued[layers.part] - layers.start, 0, layers.pcs)
    return layers.pcs - used, cents - _round(cents * used, layers.pcs)


def _unsort(values, order):
    back = np.empty_like(values)
    back[order] = values
    return back


def _check_conserved(result, layers, cents, issues):
    """In = out + left, in pieces and cents, for the covered part; and every issued piece has a row."""
    is_covered = result.layer != NEVER_CAME
    sums = [
        (int(layers.pcs.sum()), int(result.pcs[is_covered].sum() + result.layer_left_pcs.sum())),
        (int(cents.sum()), int(result.cents[is_covered].sum() + result.layer_left_cents.sum())),
        (int(issues.pcs.sum()), int(result.pcs.sum())),
    ]
    if any(came != went for came, went in sums) or (result.layer_left_pcs < 0).any():
        raise SparebenchError(
            f"The parts ledger does not balance: pieces in, cents in, pieces out are {sums} (wanted equal pairs). "
            "This is a fault in the reckoning, not in the records: please report it."
        )

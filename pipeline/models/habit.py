"""Today's habit, read off the orders on record: what usually lay there when a part was ordered, and how many came."""

import numpy as np

from pipeline.store import read

_ORDERED = """
    select lines.part, median(greatest(coalesce(book.on_hand_pcs, 0), 0)) as left_pcs, median(lines.qty_pcs) as lot_pcs
    from tidy_order_lines as lines
    inner join tidy_orders as orders on lines.order_no = orders.order_no
    asof left join stock_book as book on lines.part = book.part and orders.ordered_on >= book.book_on
    where lines.qty_pcs > 0 and orders.ordered_on is not null
    group by lines.part order by lines.part"""


def levels(connection, parts):
    """Levels at which the owner has ordered each part, and to which.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An open store.
    parts : sequence of str
        Parts, in the order wanted.

    Returns
    -------
    left_pcs, order_up_to_pcs : numpy.ndarray of int, shape (n_parts,)
        The middle of what lay there when it was ordered, and that and the middle of what was ordered; -1 and 0 for a
        part that was never ordered: bought when a job lacks it.
    """
    ordered = read.query(connection, _ORDERED).set_index("part").reindex(list(parts))
    is_known = ordered["lot_pcs"].notna().to_numpy()
    left = np.floor(ordered["left_pcs"].fillna(0).to_numpy(dtype=float)).astype(np.int64)
    lot = np.maximum(np.rint(ordered["lot_pcs"].fillna(1).to_numpy(dtype=float)), 1).astype(np.int64)
    return np.where(is_known, left, -1), np.where(is_known, left + lot, 0)

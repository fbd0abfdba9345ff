"""Pieces on the shelf beyond a year's likely use, with the cash they tie up."""

import numpy as np
import pandas as pd

from pipeline.models import counter_sales, demand

COLUMNS = ["part", "on_hand_pcs", "likely_use_12m_pcs", "idle_pcs", "idle_amount"]
HORIZON_DAYS = 365
METHOD = (
    "Idle is what lies there beyond a year's likely use: what jobs have written down, what other work takes at the "
    "most in nine years of ten, and what is likely to be sold over the counter. Of parts that come in runs or no more, "
    "what the plan means to keep for longer is not idle, nor is the last piece of a part kept by the owner's word."
)


def table(plan, connection):
    """Table ``idle_stock``: the dearest first.

    Parameters
    ----------
    plan : pipeline.decisions.order_plan.StockPlan
        Today's plan.
    connection : duckdb.DuckDBPyConnection
        An open store.

    Returns
    -------
    pandas.DataFrame
        `COLUMNS`: parts with idle pieces alone. idle_amount at the price to buy them today, missing where no price is
        known. A part nobody counted is not judged.
    """
    lines = plan.lines
    likely = _likely_pcs(plan, connection)
    meant = (lines["order_up_to_pcs"] + lines["committed_pcs"]).where(lines["supply"] != "steady", 0)
    kept = np.maximum(meant, (lines["keep"] == "always").astype(int))
    idle = np.floor(lines["free_pcs"] - np.maximum(likely, kept))
    made = pd.DataFrame({"part": lines["part"], "on_hand_pcs": lines["on_hand_pcs"], "likely_use_12m_pcs": likely,
                         "idle_pcs": idle, "idle_amount": (idle * lines["known_price"]).round(2)})
    made = made[made["idle_pcs"] > 0].sort_values(["idle_amount", "part"], ascending=[False, True])
    whole = dict.fromkeys(COLUMNS[1:4], "Int64")
    return made.astype(whole).reset_index(drop=True)


def _likely_pcs(plan, connection):
    """Pieces that a year takes at the most, nine times in ten, in the order of the plan's lines."""
    parts, facts = list(plan.lines["part"]), plan.facts
    work = demand.predict(facts.use, facts.reservations.others, HORIZON_DAYS).by_part
    sold = counter_sales.predict(connection, facts.today, HORIZON_DAYS).by_part
    other, counter = (told.set_index("part")["q90_pcs"].reindex(parts).fillna(0).to_numpy(dtype=float)
                      for told in (work, sold))
    return facts.reservations.known_pcs(parts, HORIZON_DAYS) + other + counter

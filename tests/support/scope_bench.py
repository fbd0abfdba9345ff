"""A machine of three flippers, a coil and a sleeve in each, and its options of scope: for tests by hand."""

from functools import cache

from pipeline.decisions import scope
from tests.support import hand_shop

SHOP = {
    "today": "2026-07-01",
    "labour_rate": "60",
    "labour_cost": "30",
    "overhead_per_hour": "10",
    "part_markup_share": "0.5",
    "callback_trip_cost": "50",
    "callback_goodwill_cost": "40",
    "warranty_days": "90",
    "callback_watch_days": "180",
    "plays_per_month_home": "100",
    "plays_per_month_route": "1000",
}
HOUR_COST = 40.0  # labour and overhead of `SHOP`
BASE = {
    "families": "family name\nss Solid-state",
    "parts": "part description wear_class unit_cost\ncoil Coil coil 15\nsleeve Sleeve sleeve 1\nglass Glass cosmetic -",
    "assemblies": "assembly bench_hours installed_hours open_hours\nflip 1 2 0.3",
    "family_assemblies": "family assembly count\nss flip 3",
    "assembly_parts": """assembly part qty_pcs piece_hours thorough_action fix_only_action
        flip coil 1 0.2 replace keep
        flip sleeve 1 0.05 replace keep""",
    "wear": """wear_class median_plays_new median_plays_kept median_months_new median_months_kept shape weight_jobs
        coil 900000 450000 900 450 1.2 2
        sleeve 100000 5000 100 20 2 2""",
    "jobs": "job family scope status setting delivered_on plays_quality\nR1 ss refresh delivered home 2026-01-01 read",
    "job_parts": "job part qty_pcs\nR1 glass 1",
    "callbacks": "job reported_on cause\nR1 2026-01-20 level",
}
# Sleeves that soon fail, in assemblies that are quickly opened and put back: what is worn is worth replacing.
WORN = {
    "assemblies": "assembly bench_hours installed_hours open_hours\nflip 0.1 0.2 0.1",
    "wear": BASE["wear"].replace("sleeve 100000 5000 100 20", "sleeve 100000 600 100 6"),
}


def made(shop=None, quiet_share=scope.QUIET_SHARE, **tables):
    """The options of `BASE` with other settings and tables; made once for all tests that only look at them.

    Parameters
    ----------
    shop : dict of str to str, optional
        Settings that differ from `SHOP`.
    quiet_share : float, optional
        Chance of no call-back that is asked, 0 to 1.
    **tables : str
        Tables that differ from `BASE`, as in `tests.support.hand_shop`; "" leaves one out.

    Returns
    -------
    pipeline.decisions.scope.Scopes
    """
    settings = "key value\n" + "\n".join(f"{key} {value}" for key, value in (SHOP | (shop or {})).items())
    return _made(quiet_share, **{name: text for name, text in {**BASE, "shop": settings, **tables}.items() if text})


def machine(subject="family:ss", **tables):
    """One machine of :func:`made`, and its shop."""
    found = made(**tables)
    return found.machines[subject], found.shop


def forget():
    """Have the tables made anew."""
    _made.cache_clear()


def assert_whole(scopes):
    """Nothing is missing but what cannot be known: later costs of what no list names, and prices nobody gave."""
    is_listed = {name: machine.subject.is_listed for name, machine in scopes.machines.items()}
    listed = scopes.options[scopes.options["subject"].map(is_listed).fillna(False).astype(bool)]
    assert listed.notna().all().all()
    now = scopes.options[["subject", "option", "parts_amount", "bench_hours", "price_amount"]]
    assert now.notna().all().all()
    assert scopes.frontiers.notna().all().all()
    shares = scopes.calls.set_index("subject").filter(like="_share")
    known = shares[shares.index.map(is_listed).to_numpy(dtype=bool)]
    assert ((known >= -1e-9) & (known <= 1 + 1e-9)).all().all()
    assert scopes.lines[["subject", "option", "qty_pcs", "action", "why"]].notna().all().all()
    unpriced = scopes.lines["now_amount"].isna()
    assert scopes.lines.loc[unpriced, "why"].str.contains("no price known").all()


@cache
def _made(quiet_share, **tables):
    with hand_shop.store(**tables) as connection:
        return scope.make(connection, quiet_share)

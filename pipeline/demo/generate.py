"""Make the records of an invented workshop: ``python -m pipeline.demo.generate OUT --seed N``."""

import argparse
from dataclasses import dataclass
from pathlib import Path

from pipeline.demo import (
    catalogue,
    faults,
    floor,
    jobs,
    money,
    owner,
    purchases,
    quotes,
    records,
    truth,
    vendors,
    write,
)
from pipeline.demo.world import World

DEMO_SEED = 20261028


@dataclass(frozen=True)
class Shop:
    """An invented workshop: ``tables`` as in the shop folder and ``truth_tables`` beside them (lists of dict)."""

    tables: dict[str, list[dict]]
    truth_tables: dict[str, list[dict]]
    truth_numbers: dict


def generate(seed, out_dir, world=None):
    """Write the records of an invented workshop as a shop folder, its true parameters in ``truth/`` beside them.

    Parameters
    ----------
    seed : int
        Not negative; the same seed and world give the same bytes.
    out_dir : str or pathlib.Path
        Made if absent; files of the same name are overwritten.
    world : World, optional
        True parameters; the default is the committed demo's.

    Raises
    ------
    OSError
        If the folder cannot be written.
    """
    shop = simulate(seed, world)
    write.shop_folder(Path(out_dir), shop.tables)
    write.truth_folder(Path(out_dir), shop.truth_tables, shop.truth_numbers)


def simulate(seed, world=None):
    """Return an invented workshop without writing it (Shop); arguments as in `generate`."""
    world = World() if world is None else world
    asked = jobs.arrivals(seed, world)
    shop_floor = floor.run(seed, world, asked, records.WATCH_DAYS)
    purchases.number_orders(shop_floor.buyer.orders, world)
    for job in asked:
        records.set_status(world, job)
    silent = records.forgotten(seed, world, asked)
    tables = _tables(seed, world, shop_floor, silent)
    planted, slips = faults.plant(seed, tables) if world.habits.with_faults else ([], [])
    beside = truth.tables(seed, world, shop_floor, silent) | {"faults": planted, "slips": slips}
    return Shop({name: tables[name] for name in write.COLUMNS}, beside, truth.numbers(seed, world))


def _tables(seed, world, shop_floor, silent):
    asked = shop_floor.jobs
    heads, lines = records.order_rows(world, shop_floor.buyer.orders)
    counts, moves = records.stock_rows(world, shop_floor, catalogue.shelf_places(seed))
    callbacks, callback_hours = records.callback_rows(seed, world, shop_floor)
    tables = {"shop": owner.shop_rows(world), "machines": owner.machine_rows(asked), "aliases": owner.alias_rows(),
              "orders": heads, "order_lines": lines, "counts": counts, "stock_moves": moves, "callbacks": callbacks,
              "wear": owner.wear_rows(seed, world), "job_parts": records.part_rows(seed, world, asked, silent),
              "findings": records.finding_rows(seed, world, asked),
              "quote_lines": quotes.quote_rows(seed, world, asked),
              "approvals": [row for job in asked for row in money.approvals(seed, world, job)]}
    tables |= catalogue.tables(seed) | vendors.tables(seed, world) | _money_tables(seed, world, asked, callback_hours)
    if not world.with_bookings:
        tables["jobs"] = records.without_bookings(tables["jobs"])
        _drop_strangers(tables)
    return tables


def _money_tables(seed, world, asked, callback_hours):
    job_rows, hours, costs, payments = [], list(callback_hours), [], []
    for job in asked:
        offered = money.quote(seed, world, job, job.scope)
        own = money.hour_rows(seed, world, job)
        hours += own
        invoice = money.invoiced(seed, world, job, own, offered) if job.status == "delivered" else None
        job_rows.append(records.job_row(seed, world, job, offered, invoice))
        costs += money.cost_rows(seed, world, job, offered)
        if job.accepted and job.answered < world.n_days:
            payments += money.payment_rows(seed, world, job, offered, invoice)
    hours.sort(key=lambda row: (row["worked_on"], row["job"]))
    payments.sort(key=lambda row: (row["paid_on"], row["job"]))
    return {"jobs": job_rows, "job_hours": records.told_apart(hours), "job_costs": costs, "payments": payments}


def _drop_strangers(tables):
    known = {row["job"] for row in tables["jobs"]}
    for name, columns in write.COLUMNS.items():
        if name != "jobs" and "job" in columns.split():
            tables[name] = [row for row in tables[name] if row["job"] in known]


def main(arguments=None):
    """Write a demo shop folder from the command line; silent when all is well."""
    parser = argparse.ArgumentParser(prog="python -m pipeline.demo.generate", description=__doc__)
    parser.add_argument("out", help="folder to write")
    parser.add_argument("--seed", type=int, default=DEMO_SEED, help="not negative (default: the committed demo's)")
    given = parser.parse_args(arguments)
    if given.seed < 0:
        parser.error(f"--seed is {given.seed}; wanted 0 or more")
    generate(given.seed, given.out)


if __name__ == "__main__":
    main()

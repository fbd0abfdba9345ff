"""Orders to send: for each vendor's basket a file for a spreadsheet and a page to print."""

import csv
import io
from pathlib import Path

from pipeline.reports import all_tables, file_names, pages, sheet_cells
from pipeline.reports import shop as shops
from pipeline.reports.formats import is_unknown
from pipeline.reports.tables import Links, Note

FOLDER = "orders"
COLUMNS = ["vendor_part", "part", "description", "packs", "pack_pcs", "pieces", "price", "amount"]
ENDINGS = (".csv", ".html")


def lines(plan, vendor):
    """Lines of the order to one vendor.

    Parameters
    ----------
    plan : pipeline.decisions.order_plan.StockPlan
        Today's plan.
    vendor : str

    Returns
    -------
    pandas.DataFrame
        `COLUMNS`, sorted by part: pieces are packs of pack_pcs, price is that of a pack, amount the line's, to the
        cent; no freight in either.
    """
    rows = plan.order_lines[plan.order_lines["vendor"] == vendor]
    whole = rows[["packs", "pack_pcs", "order_pcs"]].round().astype(int)
    made = rows[["vendor_part", "part", "description"]].assign(
        packs=whole["packs"], pack_pcs=whole["pack_pcs"], pieces=whole["order_pcs"],
        price=(rows["line_amount"] / rows["packs"]).round(4), amount=rows["line_amount"].round(2))
    return made.sort_values("part")[COLUMNS].reset_index(drop=True)


def stems(shop):
    """Names of the files of every vendor, without their ending.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store.

    Returns
    -------
    dict of str to str
        By vendor; whoever else is ordered from today, a vendor's name stays.
    """
    return file_names.safe(shop.query("select vendor from vendors")["vendor"])


def write(store, folder):
    """Write the files of every basket of today's plan; those of vendors not ordered from today go.

    Parameters
    ----------
    store : str or pathlib.Path
        The DuckDB file.
    folder : str or pathlib.Path
        Made if missing. Other files in it stay as they are.

    Returns
    -------
    list of str
        Names of the orders, without the endings ``.csv`` and ``.html``.

    Raises
    ------
    pipeline.errors.StoreError
        If the store cannot be read.
    OSError
        If a file cannot be written.
    """
    folder, shop = Path(folder), shops.of(store)
    plan, names = all_tables.decided(store, "order_plan"), stems(shop)
    ordered = [vendor for vendor in plan.baskets["vendor"] if vendor in names]
    for vendor, stem in names.items():
        if vendor not in ordered:  # an order of an earlier day must not be sent again
            for ending in ENDINGS:
                (folder / f"{stem}{ending}").unlink(missing_ok=True)
    for vendor in ordered:
        rows = lines(plan, vendor)
        _write(folder / f"{names[vendor]}.csv", csv_text(rows))
        _write(folder / f"{names[vendor]}.html", page(rows, vendor, plan, shop))
    return [names[vendor] for vendor in ordered]


def csv_text(rows):
    """An order as CSV: comma, UTF-8, one header row, no cell that a spreadsheet would run.

    Parameters
    ----------
    rows : pandas.DataFrame
        From :func:`lines`.

    Returns
    -------
    str
        The unknown is empty.
    """
    text = io.StringIO()
    out = csv.writer(text, lineterminator="\n")
    out.writerow(COLUMNS)
    for row in rows.itertuples(index=False):
        words = ["" if is_unknown(cell) else sheet_cells.harmless(str(cell)) for cell in row[:3]]
        out.writerow([*words, *row[3:6], _price(row.price), f"{row.amount:.2f}"])
    return text.getvalue()


def page(rows, vendor, plan, shop):
    """An order as a page to print.

    Parameters
    ----------
    rows : pandas.DataFrame
        From :func:`lines`.
    vendor : str
    plan : pipeline.decisions.order_plan.StockPlan
        For freight and the vendor's terms.
    shop : pipeline.reports.shop.Shop
        Name of the shop and currency.

    Returns
    -------
    str
        HTML that asks nothing of the network.
    """
    import jinja2

    environment = jinja2.Environment(loader=jinja2.FileSystemLoader(pages.TEMPLATES), autoescape=True)
    basket = plan.baskets[plan.baskets["vendor"] == vendor].iloc[0]
    terms = plan.facts.terms[plan.facts.terms["vendor"] == vendor].iloc[0]
    goods = float(rows["amount"].sum())
    freight = None if is_unknown(basket["freight_amount"]) else float(basket["freight_amount"])
    shown = [[_shown(cell) for cell in row[:3]] + [f"{number:,}" for number in row[3:6]]
             + [_price(row.price, ","), f"{row.amount:,.2f}"] for row in rows.itertuples(index=False)]
    return environment.get_template("order.html.j2").render(
        policy=pages.security_policy(""), style=pages.style_sheet(), shop_name=shop.settings.name,
        vendor=vendor if is_unknown(terms["name"]) else terms["name"], day=plan.facts.today.isoformat(), rows=shown,
        currency=shop.currency, goods=f"{goods:,.2f}", terms=_terms(terms, shop.currency),
        freight="unknown" if freight is None else f"{freight:,.2f}",
        total="unknown until the freight is" if freight is None else f"{goods + freight:,.2f}")


def links(shop, vendors, folder=FOLDER):
    """Say on a page where the order files are.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store.
    vendors : iterable of str
        Vendors ordered from today.
    folder : str
        As seen from the page.

    Returns
    -------
    pipeline.reports.tables.Links or pipeline.reports.tables.Note
        A link to each page and file; a sentence where there is none.
    """
    names = stems(shop)
    stems_today = [names[vendor] for vendor in vendors if vendor in names]
    if not stems_today:
        return Note("No order is due today, so there is no order file.")
    files = [f"{folder}/{stem}{ending}" for stem in stems_today for ending in (".html", ".csv")]
    return Links("The orders lie beside the report's pages, one to print (.html) and one to send (.csv) for each "
                 f"vendor, in the folder {folder}:", tuple(files))


def _terms(terms, currency):
    """What the vendor asks of an order, in words."""
    if terms["minimum_order"] > 0:
        yield f"minimum order {currency} {terms['minimum_order']:,.2f}"
    if 0 < terms["freight_free_over"] < float("inf"):
        yield f"freight free from {currency} {terms['freight_free_over']:,.2f} of goods"


def _price(price, thousands=""):
    """Two decimals, up to four where the price has them."""
    whole, _, digits = f"{price:{thousands}.4f}".partition(".")
    return f"{whole}.{digits.rstrip('0').ljust(2, '0')}"


def _shown(cell):
    return "" if is_unknown(cell) else str(cell)


def _write(path, text):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8", newline="\n")

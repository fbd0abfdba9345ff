"""The verbs: what the user's words ask for, one call each; what comes back goes to `tell`, line by line."""

import argparse
import datetime
import os
import shlex
from pathlib import Path

from pipeline import bootstrap, trouble_log
from pipeline.errors import SparebenchError, StoreError, UsageError

DEMO_FOLDER = bootstrap.ROOT / "data" / "demo"
_PROGRAM = "py -m pipeline" if os.name == "nt" else "python3 -m pipeline"


def run(words, tell, remark, show):
    """Do what the command line asks.

    Parameters
    ----------
    words : list of str
        The command line after `python3 -m pipeline`.
    tell, remark, show : callable
        Take a line of the result, a line about the work, and a line of progress shown over the one before.

    Returns
    -------
    int
        0 done, 1 the data needs attention; other troubles are raised.
    """
    request = read(words)
    bootstrap.ensure(request.tier, words, remark, show)
    return _done(request, tell)


def read(words):
    """Read the command line; `--help` and wrong usage end here, before anything is installed.

    Parameters
    ----------
    words : list of str
        The command line after `python3 -m pipeline`.

    Returns
    -------
    argparse.Namespace
        `verb` (the function to call), `tier` (what it needs installed), and the verb's own words.

    Raises
    ------
    SystemExit
        With 2 on wrong usage, 0 after help.
    """
    request, rest = _parser().parse_known_args(words)
    if request.verb is _test:
        request.pytest_words = list(words)[list(words).index("test") + 1 :]
        request.tier = "bench" if "bench" in request.pytest_words else "test"
    elif rest:
        _parser().error(f"unrecognised words: {' '.join(rest)}")
    return request


def explain(error, words):
    """Put an error into words for the user; what nobody foresaw goes to a log with its traceback.

    Parameters
    ----------
    error : Exception
        As it was caught.
    words : list of str
        The command line it came from; `--out` in it says where the log goes.

    Returns
    -------
    tuple of (str, int)
        The message and the exit code.
    """
    if isinstance(error, SparebenchError):
        return str(error), error.exit_code
    log_file = trouble_log.keep(error, words)
    found = " ".join(f"{type(error).__name__}: {error}".split())
    return f"Something went wrong that was not foreseen ({found}). The details are in {log_file}.", 1


def _done(request, tell):
    from pipeline.store import stop

    with stop.as_ctrl_c():
        return request.verb(request, tell)


def _parser():
    parser = argparse.ArgumentParser(prog=_PROGRAM, description="What to stock, what a rebuild costs, what jobs earn.")
    parser.set_defaults(tier="run")
    verbs = parser.add_subparsers(metavar="VERB", required=True)
    _add(verbs, _demo)
    _add(verbs, _test, has_places=False)
    new = _add(verbs, _new, has_places=False)
    new.add_argument("folder", type=Path, metavar="DIR")
    new.add_argument("--xlsx", action="store_true", help="one workbook instead of a file for each kind of record")
    _add(verbs, _check).add_argument("place", type=Path, metavar="FOLDER_OR_XLSX")
    load = _add(verbs, _load)
    load.add_argument("place", type=Path, metavar="FOLDER_OR_XLSX")
    load.add_argument("--strict", action="store_true", help="load nothing where any row would be set aside")
    load.add_argument("--replace", action="store_true", help="drop rows loaded before that the folder no longer bears")
    load.add_argument("--allow-loss", action="store_true",
                      help="let --replace leave a table empty, or drop more than half of one")
    report = _add(verbs, _report)
    many = {"nargs": "+", "action": "extend", "default": []}
    report.add_argument("--only", metavar="NOTEBOOK", help="these notebooks alone", **many)
    report.add_argument("--set", metavar="PARAMETER=VALUE", help="parameters of the notebooks", **many)
    receive = _add(verbs, _receive)
    receive.add_argument("order_no", metavar="ORDER_NO")
    receive.add_argument("--on", metavar="DAY", help="the day it came, as 2025-03-09 (today unless told)")
    receive.add_argument("--part", metavar="PART=PIECES", help="what came (everything still open unless told)", **many)
    receive.add_argument("--allow-more", action="store_true", help="book in more than was ordered, if more really came")
    _add(verbs, _open).add_argument("notebook", nargs="?", default="today", metavar="NOTEBOOK")
    export = _add(verbs, _export)
    export.add_argument("folder", type=Path, metavar="DIR")
    export.add_argument("--with-customers", action="store_true", help="keep customer_ref of jobs")
    _add(verbs, _back_up).add_argument("file", type=Path, metavar="FILE")
    _add(verbs, _restore).add_argument("file", type=Path, metavar="FILE")
    return parser


def _add(verbs, does, has_places=True):
    """Offer a verb; its function's docstring is its help."""
    verb = verbs.add_parser(does.__name__.lstrip("_").replace("_", "-"), help=does.__doc__, description=does.__doc__)
    verb.set_defaults(verb=does)
    if has_places:
        verb.add_argument("--shop", type=Path, metavar="FILE", help="the store, a DuckDB file")
        verb.add_argument("--out", type=Path, metavar="DIR", help="where pages and tables go (out unless told)")
    return verb


def _demo(request, tell):
    """Load the invented demo shop and write every report (into out/demo unless told)."""
    from pipeline.ingest import shop_folder

    out_dir = request.out or Path("out", "demo")
    shop_file = request.shop or out_dir / "shop.duckdb"
    _tell_all(shop_folder.load(DEMO_FOLDER, shop_file, out_dir), tell)
    return _write_reports(shop_file, out_dir, [], {}, tell)


def _test(request, tell):
    """Run the whole test suite; further words go to pytest."""
    from pipeline import suite

    return suite.run(request.pytest_words)


def _new(request, tell):
    """Make a blank shop folder, or a blank workbook, with an example row for each kind of record."""
    from pipeline.ingest import starter

    made = (starter.write_workbook if request.xlsx else starter.write_folder)(request.folder)
    _tell_all(made, tell)
    return 0


def _check(request, tell):
    """Read and validate a shop folder, writing nothing but the list of records (OUT/tables/records.csv)."""
    from pipeline.ingest import shop_folder

    found = shop_folder.check(request.place, _out(request), request.shop)
    _tell_all(found, tell)
    return found.exit_code


def _load(request, tell):
    """Take a shop folder or workbook into the store (FOLDER.duckdb beside it unless told)."""
    from pipeline.ingest import shop_folder

    shop_file = request.shop or _beside(request.place)
    terms = shop_folder.Terms(is_strict=request.strict, is_replacing=request.replace,
                              allows_loss=request.allow_loss)
    loaded = shop_folder.load(request.place, shop_file, _out(request), terms)
    _tell_all(loaded, tell)
    if not loaded.exit_code:
        tell(f"Next: {_command('report', shop_file, request.out)}")
    return loaded.exit_code


def _report(request, tell):
    """Write the reports as pages and tables (of the store out/shop.duckdb unless told)."""
    settings = dict(_setting(text) for text in request.set)
    return _write_reports(_store(request, "report"), _out(request), request.only, settings, tell)


def _receive(request, tell):
    """Book in a delivery of an order, whole or in part (into the store out/shop.duckdb unless told)."""
    from pipeline.ingest import deliveries

    pieces, shop_file = deliveries.pairs(request.part), _store(request, "receive")
    today = datetime.date.today()
    _tell_all(deliveries.receive(shop_file, request.order_no, request.on, pieces, today, request.allow_more), tell)
    tell(f"Next: {_command('report', shop_file, request.out)}")
    return 0


def _open(request, tell):
    """Open a notebook in the browser (of the store out/shop.duckdb unless told)."""
    from pipeline.reports import lab

    lab.open_notebook(_store(request, "open"), _out(request), request.notebook, tell)
    return 0


def _export(request, tell):
    """Write everything the store holds back as a shop folder (of the store out/shop.duckdb unless told)."""
    from pipeline.ingest import export

    _tell_all(export.export(_store(request, "export"), request.folder, request.with_customers), tell)
    return 0


def _back_up(request, tell):
    """Write the whole shop into one checksummed file (of the store out/shop.duckdb unless told)."""
    from pipeline.ingest import back_up

    now = datetime.datetime.now().replace(microsecond=0)
    _tell_all(back_up.back_up(_store(request, "back-up"), request.file, now), tell)
    return 0


def _restore(request, tell):
    """Put a back-up's store in place (out/shop.duckdb unless told); a store that is there is kept beside it."""
    from pipeline.ingest import back_up

    _tell_all(back_up.restore(request.file, request.shop or _out(request) / "shop.duckdb"), tell)
    return 0


def _write_reports(shop_file, out_dir, only, settings, tell):
    from tqdm import tqdm

    from pipeline.reports import run as reports

    # disable=None: a bar on a terminal, nothing in a pipe
    with tqdm(disable=None, leave=False, bar_format="{l_bar}{bar}| {elapsed}") as bar:

        def progress(done, total, what):
            bar.n, bar.total = done, total
            bar.set_description(what)

        written = reports.report(shop_file, out_dir, only, settings, progress)
    _tell_all(written, tell)
    return int(bool(written.failures))


def _out(request):
    return request.out or Path("out")


def _beside(place):
    """`my-shop` is kept in `my-shop.duckdb` beside it, so that two shops in one place never share a store."""
    whole = place.resolve()
    shop_file = whole.parent / f"{whole.stem if whole.is_file() else whole.name}.duckdb"
    if whole.exists() and not os.access(whole.parent, os.W_OK):
        raise StoreError(f"{whole.parent} cannot be written to. Say where the store goes with --shop FILE.")
    return place.with_name(shop_file.name) if place.name == whole.name else shop_file  # as the user wrote it


def _store(request, verb):
    if request.shop:
        return request.shop
    shop_file, demo = _out(request) / "shop.duckdb", Path("out", "demo", "shop.duckdb")
    if shop_file.exists():
        return shop_file
    advice = f" For the demo's, run `{_command(verb, demo, demo.parent)}`." if demo.exists() else ""
    raise StoreError(f"{shop_file}: there is no store here. Name yours with --shop FILE, as `load` said.{advice}")


def _setting(text):
    name, equals, value = text.partition("=")
    if not (name and equals):
        raise UsageError(f"--set {text}: wanted PARAMETER=VALUE, such as --set family=em")
    return name, value


def _command(verb, shop_file, out_dir):
    places = ["--shop", str(shop_file)] + (["--out", str(out_dir)] if out_dir else [])
    return f"{_PROGRAM} {verb} {shlex.join(places)}"


def _tell_all(result, tell):
    for line in result.lines():
        tell(line)

"""Write a shop's report: the notebooks run in one warm kernel and become pages, an index and tables."""

import traceback
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import UsageError
from pipeline.reports import all_tables, kernel, order_files, pages, parameters
from pipeline.reports.formats import count_of

NOTEBOOKS = kernel.ROOT / "notebooks"
ORDER = ("today", "consumption", "shelf", "scope", "earnings", "health", "record")


@dataclass(frozen=True)
class ReportResult:
    """What a report wrote.

    Parameters
    ----------
    index : pathlib.Path
        The page to open first.
    pages : dict of str to pathlib.Path
        By name of the notebook.
    tables : dict of str to pathlib.Path
        By name of the table.
    answers : dict of str to str
        The one line of answer, by name of the notebook.
    failures : dict of str to str
        What could not be written, and why, by name of the notebook or table.
    orders : dict of str to pathlib.Path or None
        Pages of today's orders to print, by name; the file to send lies beside each, ending in ``.csv``. None where
        they were not written.
    """

    index: Path
    pages: dict
    tables: dict
    answers: dict
    failures: dict
    orders: dict | None = None

    def lines(self):
        """Lines for a terminal: the answers, what failed, where the orders are, where to look.

        Returns
        -------
        list of str
            One sentence or more each.
        """
        answers = [f"{name}: {answer}" for name, answer in self.answers.items() if answer]
        failed = [f"{name} could not be written in full. {reason}" for name, reason in self.failures.items()]
        written = f"{count_of(len(self.pages), 'page')} and {count_of(len(self.tables), 'table')} written"
        where = f"{written}. Open {self.index}"
        return [*answers, *failed, *self._order_lines(), where]

    def _order_lines(self):
        if self.orders is None:
            return []
        if not self.orders:
            return ["orders: none is due today, so no order file was written"]
        folder = next(iter(self.orders.values())).parent
        return [f"orders: {count_of(len(self.orders), 'order')} to send (.csv) and to print (.html) in {folder}: "
                f"{', '.join(self.orders)}"]


def report(shop_file, out_dir, only=None, settings=None, progress=None):
    """Run the notebooks on a store and write pages and tables.

    Parameters
    ----------
    shop_file : str or pathlib.Path
        The store.
    out_dir : str or pathlib.Path
        Where to write; made if missing.
    only : str or sequence of str, optional
        Names of the notebooks to run; all when left out.
    settings : dict of str to object, optional
        Notebook parameters by name.
    progress : callable, optional
        Called as ``progress(done, total, what)`` before each piece of work and once at the end.

    Returns
    -------
    ReportResult
        What was written.

    Raises
    ------
    pipeline.errors.UsageError
        If a notebook or parameter does not exist.
    pipeline.errors.InvalidParameter
        If a parameter's value does not fit.
    pipeline.errors.StoreError
        If the store cannot be read.
    """
    shop_file, out_dir = Path(shop_file).resolve(), Path(out_dir).resolve()
    names = chosen(only)
    values, shop = _asked(shop_file, names, settings or {})
    _make(out_dir)
    steps = _Steps(progress, len(all_tables.NAMES) + 1 + 2 * len(names))
    with (
        ThreadPoolExecutor(1) as beside,
        _Log(out_dir / "report.log") as log,
        kernel.warm(NOTEBOOKS) as running,
    ):
        beside.submit(pages.prepare)
        tables = _write_tables(running, shop_file, out_dir / "tables", steps, log)
        orders = _write_orders(running, shop_file, out_dir / order_files.FOLDER, steps, log)
        ran = {
            name: _run(running, name, {**values[name], "store": str(shop_file)}, steps, log) for name in names
        }
    written = _write_pages(ran, values, out_dir, steps)
    index = pages.write_front(
        list(_all_pages(ran, out_dir).values()),
        [path.name for path in tables.values()],
        out_dir,
        shop.name,
        shop.today,
        [f"{order_files.FOLDER}/{path.name}" for path in (orders or {}).values()],
    )
    steps.done()
    answers = {name: pages.page_of(name, notebook).answer for name, notebook in ran.items()}
    return ReportResult(index, written, tables, answers, log.failures, orders)


def chosen(only):
    """Names of the notebooks to run, in reading order.

    Parameters
    ----------
    only : str, sequence of str or None
        What was asked for; None means all.

    Returns
    -------
    list of str
        Names.

    Raises
    ------
    pipeline.errors.UsageError
        If one does not exist.

    Examples
    --------
    >>> chosen(["shelf", "today"])
    ['today', 'shelf']
    """
    asked = [only] if isinstance(only, str) else only or ORDER
    for name in asked:
        if name not in ORDER:
            close = parameters.near_miss(name, ORDER)
            hint = f" Did you mean {close}?" if close else ""
            raise UsageError(f"no notebook {name!r}.{hint} Wanted one of: {', '.join(ORDER)}.")
    return [name for name in ORDER if name in asked]


class _Steps:
    """Counts the pieces of work for whoever watches."""

    def __init__(self, progress, total):
        self._progress, self._total, self._done = progress, total, 0

    def next(self, what):
        if self._progress:
            self._progress(self._done, self._total, what)
        self._done += 1

    def done(self):
        if self._progress:
            self._progress(self._total, self._total, "done")


class _Log:
    """Keeps what failed: a sentence for the reader, the traceback for a file written only then."""

    def __init__(self, path):
        self._path, self.failures, self._kept = path, {}, []

    def __enter__(self):
        self._path.unlink(missing_ok=True)
        return self

    def failed(self, name, error):
        self.failures[name] = str(error)
        self._kept.append(f"== {name}\n{''.join(traceback.format_exception(error))}")

    def __exit__(self, *_):
        if self._kept:
            self._path.write_text("\n".join(self._kept), encoding="utf-8")


def _asked(shop_file, names, settings):
    from pipeline.store import connect, read

    declared = {name: parameters.declared(NOTEBOOKS / f"{name}.ipynb") for name in names}
    with connect.open_read(shop_file) as connection:
        allowed = parameters.choices(connection)
        shop = read.settings(connection)
    return parameters.checked(settings, declared, allowed), shop


def _write_tables(running, shop_file, folder, steps, log):
    running.say("from pipeline.reports import all_tables")
    written = {}
    for name in all_tables.NAMES:
        steps.next(f"table {name}")
        try:
            running.say(f"all_tables.write({str(shop_file)!r}, {name!r}, {str(folder)!r})")
            written[name] = folder / f"{name}.csv"
        except kernel.NotebookError as error:
            log.failed(f"table {name}", error)
    return written


def _write_orders(running, shop_file, folder, steps, log):
    steps.next("orders")
    try:
        running.say("from pipeline.reports import order_files")
        said = running.say(f"print(*order_files.write({str(shop_file)!r}, {str(folder)!r}), sep='\\n')")
    except kernel.NotebookError as error:
        log.failed("orders", error)
        return None
    return {stem: folder / f"{stem}.html" for stem in said.splitlines() if stem}


def _run(running, name, values, steps, log):
    steps.next(f"page {name}")
    notebook = parameters.notebook_with(NOTEBOOKS / f"{name}.ipynb", values)
    try:
        running.run(notebook)
    except kernel.NotebookError as error:
        log.failed(name, error)
    return notebook


def _write_pages(ran, values, out_dir, steps):
    written, known = {}, _all_pages(ran, out_dir)
    for name, notebook in ran.items():
        steps.next(f"writing {name}")
        declared = parameters.declared(NOTEBOOKS / f"{name}.ipynb").values()
        asked = [
            (one.name, values[name].get(one.name, one.default), one.meaning)
            for one in declared
            if one.name != "store"
        ]
        written[name] = pages.write_page(known[name], notebook, out_dir, list(known.values()), asked)
    return written


def _all_pages(ran, out_dir):
    known = {
        name: pages.page_of(name, ran[name]) if name in ran else pages.page_on_disk(out_dir / f"{name}.html")
        for name in ORDER
    }
    return {name: page for name, page in known.items() if page}


def _make(out_dir):
    try:
        out_dir.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(f"{out_dir}: {error.strerror}. Choose another place with --out DIR.") from None

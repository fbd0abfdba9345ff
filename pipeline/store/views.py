"""The SQL models: one file, one SELECT, one view named by the file."""

import re
from functools import cache
from pathlib import Path

SQL = Path(__file__).parent / "sql"


def create(connection):
    """Create every tidy and answer view on a connection, each after the views it reads.

    The views are temporary: they belong to this release, not to the store file, so an older store
    never answers with an older question.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        Read-only connections are served too.
    """
    for name, select in in_order():
        connection.execute(f"create or replace temp view {name} as {select}")


@cache
def in_order():
    """Return (name, select) pairs of all views, dependencies first.

    Returns
    -------
    tuple of (str, str)

    Raises
    ------
    ValueError
        If views read each other in a circle.
    """
    texts = {path.stem: path.read_text(encoding="utf-8").strip().rstrip(";")
             for folder in ("tidy", "answers") for path in sorted((SQL / folder).glob("*.sql"))}
    words = {name: set(re.findall(r"\w+", _code(text))) & texts.keys() - {name} for name, text in texts.items()}
    done = []
    while len(done) < len(texts):
        ready = [name for name in texts if name not in done and words[name] <= set(done)]
        if not ready:
            raise ValueError(f"views read each other in a circle: {sorted(set(texts) - set(done))}")
        done += ready
    return tuple((name, texts[name]) for name in done)


def checks():
    """Return (name, select) of the row checks; each returns the offending rows."""
    return [(path.stem, path.read_text(encoding="utf-8").strip().rstrip(";"))
            for path in sorted((SQL / "checks").glob("*.sql"))]


def _code(text):
    return "\n".join(line.split("--")[0] for line in text.splitlines())

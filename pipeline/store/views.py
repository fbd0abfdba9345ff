"""The SQL models: one file, one SELECT, one view named by the file."""

import re
from functools import cache
from pathlib import Path

SQL = Path(__file__).parent / "sql"
# A question's own steps, behind the remarks at its head.
_OWN_STEPS = re.compile(r"(?:\s|--[^\n]*\n)*with\s+(recursive\s)?", re.I)


def before(sql):
    """Return a question (SQL) with the views it names written before it as steps, each after those it reads.

    The views belong to this release, not to the store file, so an older store never answers with an
    older question; opening a store makes none of them, and a step that several others read is reckoned once.

    Parameters
    ----------
    sql : str
        One SELECT.

    Returns
    -------
    str

    Examples
    --------
    >>> before("select count(*) from parts")
    'select count(*) from parts'
    >>> before("from tidy_parts").startswith("with tidy_parts as (")
    True
    """
    steps = _steps(frozenset(_words(sql) & _reads().keys()))
    if not steps:
        return sql
    own = _OWN_STEPS.match(sql)
    if not own:
        return f"with {steps}\n{sql}"
    return f"with {own[1] or ''} {steps},\n{sql[own.end():]}"


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
    words = {name: _words(_code(text)) & texts.keys() - {name} for name, text in texts.items()}
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


def _words(sql):
    return set(re.findall(r"\w+", sql))


@cache
def _reads():
    """Each view's name to the names of all views that it rests on, itself among them (dict of str to set of str)."""
    found = {}
    for name, text in in_order():
        found[name] = {name}.union(*(found[other] for other in _words(_code(text)) & found.keys()))
    return found


@cache
def _steps(names):
    wanted = set().union(*(_reads()[name] for name in names))
    return ",\n".join(f"{name} as (\n{text}\n)" for name, text in in_order() if name in wanted)

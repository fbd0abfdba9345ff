"""Parameters of the notebooks, checked before anything runs: name, type, range and value in the store."""

import ast
import difflib
import math
from dataclasses import dataclass

from pipeline.errors import InvalidParameter, UsageError

CHOICE_QUERIES = {
    "family": "select family from families order by family",
    "job": "select job from jobs order by job",
    "part": "select part from parts order by part",
    "vendor": "select vendor from vendors order by vendor",
    "machine": "select machine from machines order by machine",
}
FIXED_CHOICES = {"scope": ["fix_only", "refresh", "thorough"], "window_days": [91, 365]}
_TRUTHS = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False}
_KINDS = {"str": "text", "int": "a whole number", "float": "a number", "bool": "yes or no"}
_LISTED = 24


@dataclass(frozen=True)
class Parameter:
    """One parameter that a notebook declares.

    Parameters
    ----------
    name : str
        Its name.
    kind : str
        ``str``, ``int``, ``float`` or ``bool``.
    default : object
        Value when nobody sets it.
    meaning : str
        The comment beside it: what it is, with its unit.
    """

    name: str
    kind: str
    default: object
    meaning: str


def declared(path):
    """Parameters that a notebook declares in its cell tagged ``parameters``.

    Parameters
    ----------
    path : pathlib.Path
        The notebook.

    Returns
    -------
    dict of str to Parameter
        By name, in order.
    """
    import papermill

    found = papermill.inspect_notebook(str(path)).values()
    return {
        one["name"]: Parameter(
            one["name"], one["inferred_type_name"], ast.literal_eval(one["default"]), one["help"]
        )
        for one in found
    }


def notebook_with(path, values):
    """A copy of a notebook that will run with these values instead of its defaults.

    Parameters
    ----------
    path : pathlib.Path
        The notebook.
    values : dict of str to object
        Parameter name to value.

    Returns
    -------
    nbformat.NotebookNode
        With one cell added after the parameters, and no outputs.
    """
    from papermill.iorw import load_notebook_node
    from papermill.parameterize import parameterize_notebook

    notebook = parameterize_notebook(load_notebook_node(str(path)), values, comment="asked for")
    for cell in notebook.cells:
        if cell.cell_type == "code":
            cell.outputs, cell.execution_count = [], None
    return notebook


def choices(connection):
    """Values that parameters named after a record may take.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        The store.

    Returns
    -------
    dict of str to list
        Parameter name to values.
    """
    found = {
        name: [value for (value,) in connection.execute(query).fetchall()]
        for name, query in CHOICE_QUERIES.items()
    }
    return {**found, **FIXED_CHOICES}


def checked(settings, notebooks, allowed):
    """Check what a user set against what the notebooks declare and the store holds.

    Parameters
    ----------
    settings : dict of str to object
        Name to value; text, as typed on a command line, is read as the declared type.
    notebooks : dict of str to dict of str to Parameter
        The notebooks to run, with their parameters.
    allowed : dict of str to list
        As `choices` returns it.

    Returns
    -------
    dict of str to dict
        The values each notebook is to run with, defaults left out.

    Raises
    ------
    pipeline.errors.UsageError
        If no notebook has a parameter of that name.
    pipeline.errors.InvalidParameter
        If a value is of the wrong type, out of range or not in the store.
    """
    known = {
        name: parameter
        for parameters in notebooks.values()
        for name, parameter in parameters.items()
        if name != "store"
    }
    for name in settings:
        if name not in known:
            raise UsageError(_unknown_name(name, known))
    values = {
        name: _allowed(known[name], _typed(known[name], value), allowed) for name, value in settings.items()
    }
    return {
        notebook: {name: value for name, value in values.items() if name in parameters}
        for notebook, parameters in notebooks.items()
    }


def near_miss(value, known):
    """The known value that a mistyped one comes closest to.

    Parameters
    ----------
    value : object
        What was given.
    known : sequence
        What is there.

    Returns
    -------
    object or None
        The closest, if any comes close.

    Examples
    --------
    >>> near_miss("Electromech", ["em", "electromechanical"])
    'electromechanical'
    >>> near_miss("xyz", ["em"]) is None
    True
    """
    by_text = {str(one).casefold(): one for one in known}
    close = difflib.get_close_matches(str(value).casefold(), by_text, n=1, cutoff=0.6)
    return by_text[close[0]] if close else None


def _unknown_name(name, known):
    if name == "store":
        return "store cannot be set here. Name the store with --shop FILE."
    listed = ", ".join(known) or "none"
    return f"no notebook has a parameter {name!r}{_did_you_mean(name, known)} Wanted one of: {listed}."


def _did_you_mean(value, known):
    close = near_miss(value, known)
    return "." if close is None else f". Did you mean {close}?"


def _typed(parameter, value):
    kind = parameter.kind
    is_right = {
        "str": isinstance(value, str),
        "bool": isinstance(value, bool),
        "int": isinstance(value, int) and not isinstance(value, bool),
        "float": isinstance(value, (int, float)) and not isinstance(value, bool),
    }[kind]
    if is_right:
        return float(value) if kind == "float" else value
    try:
        if not isinstance(value, str):
            raise ValueError
        return _TRUTHS[value.strip().lower()] if kind == "bool" else {"int": int, "float": float}[kind](value)
    except (ValueError, KeyError):
        raise InvalidParameter(
            f"{parameter.name} is {value!r}; wanted {_KINDS[kind]} ({parameter.meaning})."
            f"{_decimal_comma(value, kind)}"
        ) from None


def _decimal_comma(value, kind):
    is_number = kind == "float" and isinstance(value, str) and value.replace(",", "", 1).isdigit()
    return f" Did you mean {value.replace(',', '.')}?" if is_number else ""


def _allowed(parameter, value, allowed):
    name = parameter.name
    if name in allowed:
        return _one_of(parameter, value, allowed[name])
    if isinstance(value, float) and not math.isfinite(value):
        raise InvalidParameter(f"{name} is {value}; wanted a finite number ({parameter.meaning}).")
    if name.endswith("_share") and not 0 <= value <= 1:
        hint = f" Did you mean {value / 100:g}?" if 1 < value <= 100 else ""
        raise InvalidParameter(f"{name} is {value:g}; wanted a share between 0 and 1.{hint}")
    if not isinstance(value, (str, bool)) and value < 0:
        raise InvalidParameter(f"{name} is {value:g}; wanted 0 or more ({parameter.meaning}).")
    return value


def _one_of(parameter, value, known):
    if value == parameter.default or value in known:
        return value
    folded = {str(one).casefold(): one for one in known}
    if str(value).strip().casefold() in folded:
        return folded[str(value).strip().casefold()]
    more = f" and {len(known) - _LISTED} more" if len(known) > _LISTED else ""
    listed = ", ".join(map(str, known[:_LISTED])) or "none: the store holds none"
    close = _did_you_mean(value, known)
    raise InvalidParameter(
        f"{parameter.name} is {value!r}, which is not in the store{close} Wanted one of: {listed}{more}."
    )

"""Which packages each tier needs: the ranges in pyproject.toml, the exact versions in the lock files.

Standard library only: this runs before anything is installed.
"""

import re
import tomllib
from importlib import metadata
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
TIERS = ("run", "test", "bench")  # each holds the one before it
LOCKS = {
    "run": "pipeline/requirements.lock",
    "test": "pipeline/requirements-test.lock",
    "bench": "pipeline/requirements-bench.lock",
}

_RANGE = re.compile(r"([A-Za-z0-9._-]+)\s*(==|<)\s*([0-9.]+?)(\.\*)?$")


def locked(tier, root=ROOT):
    """List the lock lines of a tier, `name==version ; marker`, comments left out.

    Parameters
    ----------
    tier : {"run", "test", "bench"}
        How much is wanted.
    root : Path
        The folder that holds `pipeline/`.

    Returns
    -------
    list of str
        One requirement a line, as pip reads them.
    """
    lines = (Path(root) / LOCKS[tier]).read_text(encoding="utf-8").splitlines()
    return [line.strip() for line in lines if line.strip() and not line.startswith("#")]


def direct(tier, root=ROOT):
    """List the ranges of the packages a tier names itself, such as `duckdb==2.0.*`.

    Parameters
    ----------
    tier : {"run", "test", "bench"}
        How much is wanted.
    root : Path
        The folder that holds pyproject.toml.

    Returns
    -------
    list of str
        The run tier first, then what each further tier adds.
    """
    project = tomllib.loads((Path(root) / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    added = project["optional-dependencies"]
    ranges = list(project["dependencies"])
    for name in TIERS[1 : TIERS.index(tier) + 1]:
        ranges += added[name]
    return ranges


def split_range(text):
    """Split `name==1.2.*` or `name<1.2` into its name, its sign and the version's numbers.

    Parameters
    ----------
    text : str
        A range as pyproject.toml writes it.

    Returns
    -------
    tuple of (str, str, tuple of int)
        Package name, `==` or `<`, and the numbers that must agree or must not be reached.

    Raises
    ------
    ValueError
        If the range is written in another way; the two forms above are all we use.

    Examples
    --------
    >>> split_range("duckdb==2.0.*")
    ('duckdb', '==', (2, 0))
    """
    match = _RANGE.match(text)
    if not match:
        raise ValueError(f"pyproject.toml has the range {text!r}; wanted name==1.2.* or name<1.2")
    name, sign, version, _ = match.groups()
    return name, sign, _numbers(version)


def is_met(text, installed):
    """Whether an installed version lies in a range.

    Parameters
    ----------
    text : str
        A range as `split_range` reads it.
    installed : str or None
        The version found; None where the package is missing.

    Returns
    -------
    bool

    Examples
    --------
    >>> is_met("duckdb==2.0.*", "2.0.7"), is_met("duckdb==2.0.*", "2.10.0"), is_met("jsonschema<4.25", None)
    (True, False, False)
    """
    if installed is None:
        return False
    _, sign, wanted = split_range(text)
    found = _numbers(installed)
    return found[: len(wanted)] == wanted if sign == "==" else found < wanted


def is_satisfied(tier, root=ROOT):
    """Whether the Python running now already has every direct package of a tier, in its range.

    Parameters
    ----------
    tier : {"run", "test", "bench"}
        How much is wanted.
    root : Path
        The folder that holds pyproject.toml.

    Returns
    -------
    bool
    """
    return all(is_met(text, _installed(split_range(text)[0])) for text in direct(tier, root))


def _installed(name):
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return None


def _numbers(version):
    """Numbers of a version up to its first part that is none: 1.9.0.post1 gives (1, 9, 0)."""
    return tuple(int(part) for part in re.match(r"[0-9]+(\.[0-9]+)*", version).group().split("."))

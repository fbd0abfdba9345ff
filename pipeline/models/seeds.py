"""Seed tables: values from memory that stand in until the owner's own guess or records say more."""

from pathlib import Path

import pandas as pd

from pipeline.errors import SetupError

FOLDER = Path(__file__).resolve().parents[2] / "data" / "seeds"


def wear(folder=FOLDER):
    """Guessed lives by wear class.

    Parameters
    ----------
    folder : pathlib.Path
        Where the tables lie.

    Returns
    -------
    pandas.DataFrame
        Columns of the shop folder's ``wear`` file, ``plays_share`` (chance that a class ages by plays rather than by
        the calendar), and ``provenance``.

    Raises
    ------
    SetupError
        If the table is not there.
    """
    return _table(folder, "wear")


def assemblies(folder=FOLDER):
    """Guessed bench, installed and opening hours by kind of assembly.

    Parameters
    ----------
    folder : pathlib.Path
        Where the tables lie.

    Returns
    -------
    pandas.DataFrame
        Columns of the shop folder's ``assemblies`` file, and ``provenance``.

    Raises
    ------
    SetupError
        If the table is not there.
    """
    return _table(folder, "assemblies")


def piece_hours(folder=FOLDER):
    """Guessed bench hours to replace one piece, by wear class.

    Parameters
    ----------
    folder : pathlib.Path
        Where the tables lie.

    Returns
    -------
    pandas.Series
        Hours, by ``wear_class``.

    Raises
    ------
    SetupError
        If the table is not there.
    """
    return _table(folder, "piece_hours").set_index("wear_class")["piece_hours"]


def stages(folder=FOLDER):
    """Guessed shares of a job's hours by stage of the work.

    Parameters
    ----------
    folder : pathlib.Path
        Where the tables lie.

    Returns
    -------
    pandas.Series
        Share, 0 to 1, by ``stage`` in the order of the work. What is remembered stage by stage comes to more than
        the whole; here it sums to 1.

    Raises
    ------
    SetupError
        If the table is not there.
    """
    remembered = _table(folder, "stages").set_index("stage")["share"]
    return remembered / remembered.sum()


def installed_ratio(folder=FOLDER):
    """Hours for work on an assembled machine over hours at the bench, for an assembly that does not say.

    Parameters
    ----------
    folder : pathlib.Path
        Where the tables lie.

    Returns
    -------
    float
        Median over the seed table's assemblies.
    """
    table = assemblies(folder)
    return float((table["installed_hours"] / table["bench_hours"]).median())


def _table(folder, name):
    path = Path(folder) / f"{name}.csv"
    if not path.is_file():
        raise SetupError(
            f"{path} is missing; wanted the seed table that came with the program. Fetch it again."
        )
    return pd.read_csv(path)

"""What to do about a value that broke a rule: near misses, and rows set aside with their parent."""

from pipeline.store import catalogue, near


def suggest(connection, offences, known, set_aside):
    """Complete the suggestions for identifiers that are not listed.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    offences : pandas.DataFrame
        As :func:`pipeline.store.validate.offences` returns them; changed in place. Where the identifier's own
        row was set aside, the rule becomes ``<column>_set_aside``.
    known : pipeline.ingest.identifiers.Known
    set_aside : dict of (str, str) to str
        Parent column and identifier to the file whose row was set aside in this load.
    """
    for rule in [rule for rule in offences["rule"].unique() if rule.startswith("unknown_")]:
        column, at = rule.removeprefix("unknown_"), offences["rule"] == rule
        values = offences.loc[at, "value"]
        files = values.map(lambda value, column=column: set_aside.get((column, value))).dropna()
        offences.loc[files.index, "suggestion"] = [f"its row in {file} was itself set aside: mend that one first"
                                                   for file in files]
        offences.loc[files.index, "rule"] = f"{column}_set_aside"
        strangers = values.drop(files.index)
        meant = near.nearest(connection, strangers.value_counts().index.tolist(), known.names(column))
        offences.loc[strangers.index, "suggestion"] = [
            words + _about(text, meant.get(text), column)
            for words, text in zip(offences.loc[strangers.index, "suggestion"], strangers, strict=True)]


def name_machines_family(offences, listed_family):
    """Say of a job whose family is not listed which family its machine is of; never applied.

    Parameters
    ----------
    offences : pandas.DataFrame
        Of jobs; changed in place.
    listed_family : pandas.Series of str
        Family of the job's machine, by line.
    """
    at = (offences["column"] == "family") & (offences["rule"] == "unknown_family")
    families = offences.loc[at, "line"].map(listed_family).dropna()
    offences.loc[families.index, "suggestion"] = [
        f"{words}; its machine is of family {family}"
        for words, family in zip(offences.loc[families.index, "suggestion"], families, strict=True)]


def remember(frame, lines, table, set_aside, file):
    """Note which identifiers a file's set-aside rows would have declared."""
    if table.declares and table.declares in frame:
        for value in frame.loc[frame["file_line"].isin(lines), table.declares]:
            set_aside.setdefault((table.declares, value), file)


def _about(text, meant, column):
    meant = [name for name in meant or () if name != text]
    if meant:
        return f"; did you mean {' or '.join(filter(None, [', '.join(meant[:-1]), meant[-1]]))}?"
    register = next((name for name, table in catalogue.tables().items() if table.identity == (column,)), None)
    return f"; add it to {register} or mend the spelling" if register and column != "key" else ""

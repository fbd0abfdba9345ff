"""Renew the one checked output of each notebook after a change that is meant to change it.

Run as ``python3 -m pipeline.reports.checked_cells`` with the demo loaded into ``out/demo``; then read the difference.
"""

from pathlib import Path

from pipeline.reports import kernel, pages, run


def renew(folder=run.NOTEBOOKS):
    """Run every notebook of a folder and keep the output of its checked cell, nothing else.

    Parameters
    ----------
    folder : pathlib.Path
        Holds the notebooks; they are rewritten.

    Returns
    -------
    list of str
        Names of the notebooks whose answer changed.

    Raises
    ------
    pipeline.reports.kernel.NotebookError
        If a notebook stops; those before it are renewed.
    """
    changed = []
    with kernel.warm(folder) as running:
        for path in sorted(Path(folder).glob("*.ipynb")):
            if _renewed(running, path):
                changed.append(path.stem)
    return changed


def _renewed(running, path):
    import nbformat

    before = path.read_text(encoding="utf-8")
    notebook = nbformat.reads(before, as_version=4)
    running.run(notebook)
    notebook.metadata["language_info"] = {"name": "python"}
    for cell in (cell for cell in notebook.cells if cell.cell_type == "code"):
        is_checked = pages.ANSWER_TAG in cell.metadata.get("tags", [])
        # nbval takes an output without a number for one that never ran
        cell.outputs, cell.execution_count = (cell.outputs, 1) if is_checked else ([], None)
        cell.metadata.pop("execution", None)
    after = nbformat.writes(notebook, indent=1) + "\n"
    if after != before:
        path.write_text(after, encoding="utf-8", newline="\n")
    return after != before


if __name__ == "__main__":
    renew()

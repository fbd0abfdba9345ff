"""One warm Python kernel that runs notebooks one after the other, each from a clean slate."""

import os
import tempfile
from contextlib import contextmanager
from pathlib import Path

from pipeline import errors

ROOT = Path(__file__).resolve().parents[2]
CELL_SECONDS = 600


class NotebookError(errors.SparebenchError):
    """A notebook stopped; the message is what the cell said, without its traceback."""


@contextmanager
def warm(folder):
    """Start a kernel, and stop it afterwards.

    Parameters
    ----------
    folder : pathlib.Path
        Where the kernel runs.

    Yields
    ------
    Kernel
        Ready to run notebooks.
    """
    import nbformat
    from nbclient import NotebookClient

    client = NotebookClient(
        nbformat.v4.new_notebook(),
        kernel_name="python3",
        timeout=CELL_SECONDS,
        coalesce_streams=True,  # what one cell prints may arrive in pieces
        extra_arguments=["--log-level=ERROR"],
    )
    with tempfile.TemporaryDirectory() as private:
        with client.setup_kernel(cwd=str(folder), env=environment(private)):
            yield Kernel(client)


def environment(private):
    """Environment of a process that runs our notebooks: this package first, no start-up files of the user.

    Parameters
    ----------
    private : str
        A folder of our own for IPython's settings and history.

    Returns
    -------
    dict of str to str
        The environment.
    """
    path = os.pathsep.join(filter(None, [str(ROOT), os.environ.get("PYTHONPATH")]))
    return {**os.environ, "PYTHONPATH": path, "IPYTHONDIR": str(private), "PYDEVD_DISABLE_FILE_VALIDATION": "1"}


class Kernel:
    """A running kernel.

    Parameters
    ----------
    client : nbclient.NotebookClient
        Started.
    """

    def __init__(self, client):
        self._client = client

    def run(self, notebook):
        """Run all cells of a notebook, in place, from an empty namespace; loaded modules stay.

        Parameters
        ----------
        notebook : nbformat.NotebookNode
            The notebook; its outputs are replaced.

        Raises
        ------
        NotebookError
            If a cell fails; outputs up to there are kept.
        """
        from nbclient.exceptions import CellExecutionError

        self.say("%reset -f")
        self._client.nb = notebook
        self._client.reset_execution_trackers()
        try:
            for index, cell in enumerate(notebook.cells):
                self._client.execute_cell(cell, index)
        except CellExecutionError as error:
            raise NotebookError(_in_words(error)) from error

    def say(self, code):
        """Run one line of code and return what it printed.

        Parameters
        ----------
        code : str
            Python or an IPython command.

        Returns
        -------
        str
            Its standard output.

        Raises
        ------
        NotebookError
            If it fails.
        """
        import nbformat
        from nbclient.exceptions import CellExecutionError

        cell = nbformat.v4.new_code_cell(code)
        self._client.nb = nbformat.v4.new_notebook(cells=[cell])
        try:
            self._client.execute_cell(cell, 0)
        except CellExecutionError as error:
            raise NotebookError(_in_words(error)) from error
        return "".join(output.get("text", "") for output in cell.outputs if output.get("name") == "stdout")


def _in_words(error):
    is_ours = isinstance(getattr(errors, error.ename, None), type)
    return error.evalue if is_ours else f"{error.ename}: {error.evalue}"

"""What nobody foresaw, kept with its traceback in a file, so that the user gets a sentence."""

import datetime
import shlex
import sys
import tempfile
import traceback
from pathlib import Path

LOG = "sparebench.log"


def keep(error, words):
    """Keep an error with its traceback.

    Parameters
    ----------
    error : Exception
        As it was caught.
    words : list of str
        The command line it came from; `--out` in it says where the log goes.

    Returns
    -------
    pathlib.Path or str
        The file; words instead where no folder could be written to.
    """
    now = f"{datetime.datetime.now():%Y-%m-%d %H:%M:%S}"
    start = f"{now} Python {sys.version.split()[0]} on {sys.platform}: {shlex.join(words)}\n"
    given = [Path(after) for word, after in zip(words, words[1:], strict=False) if word == "--out"]
    for folder in (*given, Path("out"), Path(tempfile.gettempdir())):
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with open(folder / LOG, "a", encoding="utf-8") as log:
                log.writelines([start, *traceback.format_exception(error), "\n"])
        except OSError:
            continue
        return folder / LOG
    return "no file: neither the output folder nor the temporary one could be written to"

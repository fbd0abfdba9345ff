"""One run of pip on the private Python: its progress counted, its failures told in one sentence.

Standard library only: this runs before anything is installed.
"""

import os
import re
import subprocess
import sys
import time

from pipeline.errors import SetupError

LOG = ".venv-setup.log"

# Without bytecode the first start pays for what it imports and no more: 12 s less of 34, measured on 2 cores.
# --ignore-installed writes a package again that an earlier, interrupted run left half unpacked.
_OPTIONS = (
    "install --no-deps --ignore-installed --no-compile --no-input --no-warn-script-location "
    "--disable-pip-version-check --progress-bar off --timeout 15 --retries 1"
).split()

# Settings that would send packages elsewhere or add rules; where to fetch from stays the user's business.
_UNWANTED = "PIP_TARGET PIP_PREFIX PIP_ROOT PIP_CONSTRAINT PIP_REQUIREMENT PYTHONHOME PYTHONPATH".split()

# Signs in pip's or the system's words, and what they mean to the owner; the first that fits is told.
_SENTENCES = {
    "No space left on device|Errno 28|not enough space on the disk": (
        "The disk is full. Free about 1.5 GB and run the same command again."
    ),
    "CERTIFICATE_VERIFY_FAILED|SSLError": (
        "The package index did not prove who it is (a wrong clock or an office proxy?). "
        "Mend that and run the same command again."
    ),
    "Name or service not known|name resolution|NameResolutionError|getaddrinfo|NewConnectionError"
    "|Network is unreachable|Connection refused|Connection reset|Connection broken|ProxyError"
    "|ReadTimeout|ConnectTimeout|Read timed out": (
        "There is no connection to the package index. Connect to the internet and run the same command again."
    ),
    "Permission denied|Errno 13|Read-only file system|Errno 30|Access is denied": (
        "The folder {root} cannot be written to. Copy it to a place of your own and run the same command there."
    ),
    "do not match the hashes|BadZipFile|invalid wheel": "A download arrived damaged. Run the same command again.",
    "No matching distribution found|requires a different Python|is not a supported wheel": (
        "A package does not exist for Python {version} on this computer. Use another one from 3.11 to 3.13."
    ),
}


def install(pip, lines, home, show):
    """Install locked packages into the private Python.

    Parameters
    ----------
    pip : list of str
        The command that runs pip.
    lines : list of str
        Requirements with exact versions; nothing beyond them is installed.
    home : bootstrap.PrivatePython
        Where they go.
    show : callable
        Takes the line of progress to show in place of the one before, "" at the end.

    Raises
    ------
    SetupError
        If pip gives up; the message is one sentence and names the log that keeps pip's own words.
    """
    start = time.monotonic()
    log_file = home.root / LOG
    before = _count_installed(home)
    with open(log_file, "w", encoding="utf-8") as log:
        process = subprocess.Popen(
            [*pip, *_OPTIONS, *lines],
            stdout=log,
            stderr=subprocess.STDOUT,
            stdin=subprocess.DEVNULL,
            env=_environment(),
        )
        try:
            while process.poll() is None:
                time.sleep(0.2)
                seconds = time.monotonic() - start
                show(f"  {progress(_read(log_file), _count_installed(home) - before)}, {seconds:.0f} s")
        finally:
            process.terminate()
            process.wait()
            show("")
    if process.returncode:
        raise SetupError(
            f"{sentence(_read(log_file), home.root)} (Setting up stopped; pip's own words are in {LOG}.)"
        )


def progress(text, unpacked):
    r"""Say in a few words how far pip has come.

    Parameters
    ----------
    text : str
        What pip has written so far.
    unpacked : int
        Packages that have appeared in the environment since the start.

    Returns
    -------
    str

    Examples
    --------
    >>> progress("Collecting numpy==2.4.6\nCollecting tqdm==4.70.1\n", 0)
    'fetching packages: 2 so far'
    >>> progress("Installing collected packages: tqdm, numpy\n", 1)
    'unpacking packages: 1 of 2'
    """
    unpacking = re.search(r"^Installing collected packages: (.+)$", text, re.MULTILINE)
    if unpacking:
        wanted = unpacking.group(1).count(",") + 1
        return f"unpacking packages: {min(unpacked, wanted)} of {wanted}"
    return f"fetching packages: {len(re.findall(r'^Collecting ', text, re.MULTILINE))} so far"


def sentence(text, root):
    """Turn what pip or the system said into one sentence a shop owner can act on.

    Parameters
    ----------
    text : str
        Their words.
    root : Path
        The folder being set up.

    Returns
    -------
    str
        Where nothing is recognised, the last line they wrote stands in the sentence.
    """
    version = "{}.{}".format(*sys.version_info[:2])
    for signs, words in _SENTENCES.items():
        if re.search(signs, text, re.IGNORECASE):
            return words.format(root=root, version=version)
    last = (text.strip().splitlines() or ["no words at all"])[-1].strip()
    return f"The packages could not be installed: {last}"


def _environment():
    kept = {name: value for name, value in os.environ.items() if name not in _UNWANTED}
    return {
        **kept,
        "PYTHONUNBUFFERED": "1",
        "PYTHONUTF8": "1",
        "PIP_REQUIRE_VIRTUALENV": "0",
        "PIP_USER": "0",
    }


def _count_installed(home):
    return sum(1 for _ in home.packages.glob("*.dist-info"))


def _read(log_file):
    return log_file.read_text(encoding="utf-8", errors="replace")

"""A private Python for this folder: made once, filled from the lock, entered on every start.

Standard library only. What is known about it stands in one file, `.venv/.ready`: a line for each tier
that is whole, written last. A `.venv` without the right line is never trusted: it is made anew, so
that a stop at any moment costs a repetition and nothing else.
"""

import contextlib
import hashlib
import os
import shutil
import subprocess
import sys
import sysconfig
import time
from pathlib import Path

from pipeline import pip_run, requirements
from pipeline.errors import SetupError

ROOT = Path(__file__).resolve().parent.parent
ROOM_GB = {
    "run": 1.0,
    "test": 1.4,
    "bench": 1.9,
}  # packages, bytecode and pip's own cache, as measured on Linux
_ENTERED = "SPAREBENCH_ENTERED"


class PrivatePython:
    """The `.venv` beside the code: where its pieces are and what it holds.

    Parameters
    ----------
    root : Path
        The folder that holds `pipeline/`.
    """

    def __init__(self, root=ROOT):
        self.root = Path(root)
        self.folder = self.root / ".venv"
        self.mark = self.folder / ".ready"
        self.python = self.folder.joinpath(
            *(("Scripts", "python.exe") if os.name == "nt" else ("bin", "python"))
        )
        base = str(self.folder)
        self.packages = Path(sysconfig.get_path("purelib", "venv", {"base": base, "platbase": base}))

    def is_running(self):
        """Whether the Python running now is this one."""
        return Path(sys.prefix).resolve() == self.folder.resolve()

    def line(self, tier):
        """Return the mark's line for a tier: it changes with lock, Python, machine and folder."""
        known = (
            *requirements.locked(tier, self.root),
            sys.version_info[:2],
            sysconfig.get_platform(),
            self.root,
        )
        return f"{tier} {hashlib.sha256(repr(known).encode()).hexdigest()}"

    def whole_tiers(self):
        """List the tiers that are whole and current, smallest first."""
        if not self.python.exists():
            return []
        return [tier for tier in requirements.TIERS if self.line(tier) in self._marked()]

    def can_grow(self):
        """Whether a tier may be added to what is here: something is whole, and nothing is out of date."""
        return 0 < len(self.whole_tiers()) == len(self._marked())

    def _marked(self):
        try:
            return self.mark.read_text(encoding="utf-8").splitlines()
        except (OSError, UnicodeDecodeError):
            return []

    def set_mark(self, tiers):
        """Say which tiers are whole; the last thing a set-up does."""
        draft = self.mark.with_suffix(".draft")
        draft.write_text("\n".join(self.line(tier) for tier in tiers), encoding="utf-8")
        os.replace(draft, self.mark)


def ensure(tier, words, tell, show):
    """Return only in a Python that has every package of a tier; make and enter one where needed.

    Parameters
    ----------
    tier : {"run", "test", "bench"}
        How much the verb needs.
    words : sequence of str
        The command line after `python -m pipeline`, to be given again inside.
    tell, show : callable
        Take one line to keep, and one line to replace the line shown before (or "" to clear it).

    Raises
    ------
    SetupError
        If the environment cannot be made; says why in one sentence and what to do.
    """
    home = PrivatePython()
    if home.is_running():
        if tier not in home.whole_tiers():
            _leave(words)
    elif requirements.is_satisfied(tier):
        _make_importable()
    else:
        fill(home, tier, tell, show)
        _enter(home.python, words)


def fill(home, tier, tell, show):
    """Bring the private Python to a tier; nothing to do where it is there already.

    Parameters
    ----------
    home : PrivatePython
        Which one.
    tier : {"run", "test", "bench"}
        How much is wanted.
    tell, show : callable
        As in `ensure`.

    Raises
    ------
    SetupError
        If it cannot be made; what was whole before stays so.
    """
    if tier in home.whole_tiers():
        return
    try:
        with _alone(home):
            _fill(home, tier, tell, show)
    except OSError as error:
        raise SetupError(pip_run.sentence(str(error), home.root)) from error


def _fill(home, tier, tell, show):
    if tier in home.whole_tiers():  # asked again: another window may have finished meanwhile
        return
    start = time.monotonic()
    held = home.whole_tiers()[-1] if home.can_grow() else ""
    _check_room(home, ROOM_GB[tier] - ROOM_GB.get(held, 0))
    if held:
        tell(f"Adding what `{tier}` needs to the private Python (once; up to a minute).")
    else:
        tell(f"Setting up a private Python in {home.folder} (once; one to three minutes).")
        _make(home)
    there = requirements.locked(held, home.root) if held else []
    wanted = [line for line in requirements.locked(tier, home.root) if line not in there]
    pip_run.install(_pip(home), wanted, home, show)
    _link_the_code(home)
    home.set_mark(requirements.TIERS[: requirements.TIERS.index(tier) + 1])
    tell(f"Ready after {time.monotonic() - start:.0f} s.")


def _check_room(home, wanted_gb):
    free_gb = shutil.disk_usage(home.root).free / 1e9
    if free_gb < wanted_gb:
        raise SetupError(
            f"The disk has {free_gb:.1f} GB free where setting up wants {wanted_gb:.1f} GB. "
            "Free some space and run the same command again."
        )


@contextlib.contextmanager
def _alone(home):
    """Hold the set-up lock; the operating system drops it when this process ends, however it ends."""
    with open(home.root / ".venv.lock", "w", encoding="utf-8") as file:
        try:
            if os.name == "nt":
                import msvcrt

                msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
            else:
                import fcntl

                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except (BlockingIOError, PermissionError) as error:
            raise SetupError(
                "Another window is setting up this folder now. Wait until it is ready, "
                "then run the same command again."
            ) from error
        yield


def _make(home):
    """Make an empty environment, in place of whatever stands there; behind a link stands somebody else's."""
    if home.folder.is_symlink():
        raise SetupError(
            f"{home.folder} is a link to another folder, which would be emptied to make the private Python. "
            "Remove the link (not what it leads to), then run the same command again."
        )
    try:
        import venv
    except ImportError as error:
        raise SetupError(_no_venv()) from error
    with_pip = _has_ensurepip()
    if not with_pip and not _pip_can_reach_out():
        raise SetupError(_no_venv())
    home.mark.unlink(missing_ok=True)  # first, so that a stop while the rest is cleared leaves no mark
    try:
        venv.EnvBuilder(with_pip=with_pip, symlinks=os.name != "nt", clear=True).create(home.folder)
    except subprocess.CalledProcessError as error:
        raise SetupError(pip_run.sentence(os.fsdecode(error.output or b""), home.root)) from error


def _pip(home):
    """Command that runs pip on the environment: its own, or this Python's where it was made without."""
    if (home.packages / "pip").is_dir():
        return [str(home.python), "-m", "pip"]
    return [sys.executable, "-m", "pip", "--python", str(home.python)]


def _has_ensurepip():
    # Debian leaves it out unless python3-venv is installed.
    try:
        import ensurepip  # noqa: F401
    except ImportError:
        return False
    return True


def _pip_can_reach_out():
    """Whether this Python has a pip of its own that can fill another environment (22.3 and later)."""
    asked = subprocess.run(
        [sys.executable, "-m", "pip", "--python", sys.executable, "--version"],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        check=False,
    )
    return asked.returncode == 0


def _no_venv():
    version = "{}.{}".format(*sys.version_info[:2])
    return (
        "This Python cannot make a private environment: its venv module is missing or not whole. "
        f"On Debian, Ubuntu or Mint run `sudo apt install python{version}-venv`, then the same command again."
    )


def _link_the_code(home):
    # One line in site-packages instead of `pip install -e .`: it needs no build tool, so there is nothing more
    # to fetch and nothing that can fail offline, and notebook kernels, which start in notebooks/, find the
    # code as well. It is code in plain ASCII because Python before 3.13 reads a bare path in whatever
    # encoding the system has.
    line = f"import sys; sys.path.append({ascii(str(home.root))})\n"
    (home.packages / "sparebench.pth").write_text(line, encoding="ascii")


def _make_importable():
    # The environment is the user's own: nothing is written into it; kernels and tests inherit this instead.
    others = [os.environ["PYTHONPATH"]] if os.environ.get("PYTHONPATH") else []
    os.environ["PYTHONPATH"] = os.pathsep.join([str(ROOT), *others])


def _leave(words):
    """Go back to the Python this one was made from: nobody mends the ground they stand on."""
    if os.environ.get(_ENTERED):
        raise SetupError(
            "The private Python in .venv is not whole although it was just made. Delete the folder "
            ".venv and run the same command again."
        )
    _enter(Path(getattr(sys, "_base_executable", sys.executable)), words)


def _enter(python, words):
    """Run the same command with another Python, in place of this one."""
    command = [str(python), "-m", "pipeline", *words]
    environment = {**os.environ, "PYTHONUTF8": "1"}
    for name in ("PYTHONHOME", "PYTHONPATH", "__PYVENV_LAUNCHER__"):
        environment.pop(name, None)
    if python == PrivatePython().python:
        environment[_ENTERED] = "1"
    if os.name != "nt":
        os.execve(command[0], command, environment)
    child = subprocess.Popen(
        command, env=environment
    )  # Windows has no exec; Ctrl-C reaches the child by itself
    while True:
        with contextlib.suppress(KeyboardInterrupt):
            sys.exit(child.wait())

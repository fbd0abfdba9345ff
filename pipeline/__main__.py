"""The command line, `python3 -m pipeline VERB`; the only module that prints.

This file loads on an old Python, too, so that its owner is told in a sentence what is wanted.
"""

import os
import sys

OLDEST, NEWEST = (3, 11), (3, 13)


def python_complaint(version):
    """Say what is wrong with a Python of this version; "" where it will do.

    Parameters
    ----------
    version : tuple
        As `sys.version_info`.

    Returns
    -------
    str
    """
    if OLDEST <= tuple(version[:2]) <= NEWEST:
        return ""
    import shutil

    found = "Sparebench needs Python 3.{} to 3.{}; this is {}.{}.".format(OLDEST[1], NEWEST[1], *version[:2])
    names = ["python3." + str(minor) for minor in range(NEWEST[1], OLDEST[1] - 1, -1)]
    there = [name for name in names if shutil.which(name)]
    if there:
        return found + " Run `" + there[0] + " -m pipeline` instead."
    return found + " Install one of these and run the same command with it."


def main(words=None):
    """Run one verb and say how it went.

    Parameters
    ----------
    words : list of str, optional
        The command line after `python3 -m pipeline`; by default the one given.

    Returns
    -------
    int
        0 done, 1 the data or the request needs attention, 2 wrong usage, 130 stopped by the user.
    """
    complaint = python_complaint(sys.version_info)
    if complaint:
        tell(complaint)
        return 1
    from pipeline import command_line

    words = sys.argv[1:] if words is None else list(words)
    try:
        return command_line.run(words, print, tell, show)
    except KeyboardInterrupt as stopped:
        show("")
        tell(str(stopped) or "Stopped. Run the same command again to go on.")
        return 130
    except BrokenPipeError:  # the reader of our lines, such as `head`, has gone
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:
        message, exit_code = command_line.explain(error, words)
        tell(message)
        return exit_code


def tell(line):
    """Print one line about the work, not part of its result."""
    print(line, file=sys.stderr, flush=True)


def show(line):
    """Show a line of progress over the one before; nothing where nobody watches."""
    if sys.stderr.isatty():
        print("\r" + line[:79].ljust(79), end="" if line else "\r", file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main())

"""Ctrl-C: told as what it is, and made to wait where work that is done must still get its name."""

import contextlib
import signal
import threading

from pipeline.errors import Stopped


@contextlib.contextmanager
def as_ctrl_c():
    """Turn DuckDB's word for Ctrl-C in the middle of a statement into KeyboardInterrupt, within a ``with`` block."""
    try:
        yield
    except RuntimeError as error:
        raise (KeyboardInterrupt() if str(error) == "Query interrupted" else error) from None


@contextlib.contextmanager
def held_back(done):
    """Make Ctrl-C wait, from a point within a ``with`` block to its end: what begins there is done whole.

    Parameters
    ----------
    done : str
        What is done where the block ends well, for the user who pressed it meanwhile.

    Yields
    ------
    callable
        From its call on, Ctrl-C waits. It does nothing outside the main thread, which alone is told of Ctrl-C.

    Raises
    ------
    Stopped
        At the end, where Ctrl-C came meanwhile and the block ended well.
    """
    came, before = [], []

    def hold():
        is_ours = threading.current_thread() is threading.main_thread() and signal.getsignal(signal.SIGINT) is not None
        if is_ours and not before:
            before.append(signal.signal(signal.SIGINT, lambda *_: came.append(True)))

    try:
        yield hold
    finally:
        for handler in before:
            signal.signal(signal.SIGINT, handler)
    if came:
        raise Stopped(f"Stopped, but by then all was done: {done}")

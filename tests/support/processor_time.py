"""Processor time of a piece of work: what a ratio in one run is made of, so that a loaded machine does not decide."""

import time


def processor_seconds(work, repeats=1):
    """Return what ``work()`` returns and its user and system time, seconds of one processor, mean over the repeats."""
    started = time.process_time()
    for _ in range(repeats):
        result = work()
    return result, (time.process_time() - started) / repeats

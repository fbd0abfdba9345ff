"""Several reports in one kernel: it is started once, and modules that a report loaded stay loaded for the next."""

from contextlib import contextmanager, nullcontext

import pytest

from pipeline.reports import kernel


@contextmanager
def reports_in(running):
    """Write reports in a kernel that runs, within a ``with`` block; it goes on running behind the report."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(kernel, "warm", lambda *_: nullcontext(running))
        yield

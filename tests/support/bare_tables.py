"""Stores whose tables carry no remarks: what the catalogue says of its columns takes longer than many a small load."""

from contextlib import contextmanager

import pytest

from pipeline.store import build


@contextmanager
def without_remarks():
    """Build stores without the remarks of ``schema.sql`` within a ``with`` block; all else is as ever."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(build, "schema_statements", build._table_statements)
        yield

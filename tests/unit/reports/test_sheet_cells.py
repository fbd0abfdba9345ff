"""Text that a spreadsheet would run is marked as words; all other text stays as it is."""

import pytest

from pipeline.reports.sheet_cells import harmless


@pytest.mark.parametrize("text", [
    "=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\rx", "\nx", "\tharmless", " =1", "  +cmd|' /C calc'!A0", "\u00a0=1",
    "\ufeff=1", "\u200b@x", "\x00=1", "\uff1d1+1", "\uff0b1", "\u3000-1", "-"])
def test_a_cell_that_could_run_is_marked(text):
    assert harmless(text) == f"'{text}"


@pytest.mark.parametrize("text", ["", "lamp", "6 V - 8 V", "a=b", "'=1", "№ 5", "(+)", "1-2", "   ", "ä"])
def test_other_text_stays_as_it_is(text):
    assert harmless(text) == text

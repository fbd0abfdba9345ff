"""The fixed notice names every hazard of the bench, its source, and who has the last word."""

import pytest

from pipeline.decisions.cautions import CAUTIONS, INTRODUCTION, cautions

HAZARDS = (
    "mains",
    "stored charge",
    "fuse",
    "fume",
    "lead",
    "old paint",
    "solvent",
    "clear coat",
    "spring",
    "coil",
    "lifting",
    "batter",
)


@pytest.mark.parametrize("hazard", HAZARDS)
def test_hazard_is_named(hazard):
    assert any(hazard in each.hazard.lower() for each in CAUTIONS)


def test_it_defers_to_local_codes_and_licensed_practice():
    assert "Local codes" in INTRODUCTION
    assert "licence" in INTRODUCTION


def test_every_caution_has_a_source_and_says_how_sure_it_is():
    for each in CAUTIONS:
        assert each.source
        assert each.confidence in ("checked", "partly", "memory")


def test_isocyanates_are_named():
    assert any("socyanate" in each.caution for each in CAUTIONS)


def test_table_has_a_row_for_each():
    table = cautions()
    assert list(table.columns) == ["hazard", "caution", "source", "confidence"]
    assert len(table) == len(CAUTIONS)

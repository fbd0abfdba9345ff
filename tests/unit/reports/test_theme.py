"""The colours measured: apart for every common kind of colour blindness, and dark enough on the paper."""

import itertools
import re

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.reports import theme

# Machado, Oliveira & Fernandes (2009), IEEE Trans. Vis. Comput. Graph. 15, 1291-1298: linear RGB, severity 1
# (from memory; each row sums to 1, so that greys stay grey, which the first test below checks).
SIGHT = {
    "full": np.eye(3),
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritanopia": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}


def linear_rgb(colour):
    """IEC 61966-2-1 (sRGB) decoding."""
    coded = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)


def lab(rgb):
    """CIE 1976 L*a*b*, white D65."""
    to_xyz = np.array(
        [
            [0.4124564, 0.3575761, 0.1804375],
            [0.2126729, 0.7151522, 0.0721750],
            [0.0193339, 0.1191920, 0.9503041],
        ]
    )
    ratio = to_xyz @ np.clip(rgb, 0, 1) / np.array([0.95047, 1.0, 1.08883])
    root = np.where(ratio > 216 / 24389, np.cbrt(ratio), (24389 / 27 * ratio + 16) / 116)
    return np.array([116 * root[1] - 16, 500 * (root[0] - root[1]), 200 * (root[1] - root[2])])


def contrast(one, other):
    """WCAG 2.2, definition of contrast ratio."""
    dark, light = sorted(
        float(np.array([0.2126, 0.7152, 0.0722]) @ linear_rgb(colour)) for colour in (one, other)
    )
    return (light + 0.05) / (dark + 0.05)


def test_simulated_sight_leaves_greys_grey():
    for matrix in SIGHT.values():
        assert_allclose(matrix.sum(axis=1), 1, atol=1e-5)


def test_contrast_of_black_on_white_is_twenty_one():
    # WCAG 2.2: contrast ratios range from 1 to 21.
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("sight", SIGHT)
def test_series_colours_stay_apart(sight):
    seen = [lab(SIGHT[sight] @ linear_rgb(colour)) for colour in theme.SERIES]
    apart = [np.linalg.norm(one - other) for one, other in itertools.combinations(seen, 2)]
    assert min(apart) > 15  # a difference of 2.3 is just noticeable (Mahy et al. 1994)


@pytest.mark.parametrize("colour", theme.SERIES)
def test_series_colours_stand_against_the_paper(colour):
    assert contrast(colour, theme.PAPER) >= 3  # WCAG 2.2, 1.4.11


def test_inks_are_readable_on_paper_and_shade():
    assert contrast(theme.INK, theme.SHADE) >= 7  # WCAG 2.2, 1.4.6
    assert contrast(theme.QUIET_INK, theme.SHADE) >= 4.5  # WCAG 2.2, 1.4.3


def test_paper_coloured_numbers_are_readable_on_the_darkest_heat():
    assert contrast(theme.PAPER, theme.HEAT[-1]) >= 4.5


@pytest.mark.parametrize("named", [theme.OPTION_COLOURS, theme.SCOPE_COLOURS, theme.OUTCOME_COLOURS])
def test_named_colours_come_from_the_series_and_differ(named):
    assert set(named.values()) <= set(theme.SERIES)
    assert len(set(named.values())) == len(named)


def test_scopes_differ_in_shape_as_well():
    assert list(theme.SCOPE_SHAPES) == list(theme.SCOPE_COLOURS)
    assert len(set(theme.SCOPE_SHAPES.values())) == len(theme.SCOPE_SHAPES)


def test_no_other_file_of_the_layer_names_a_colour():
    from pathlib import Path

    layer = Path(theme.__file__).parent
    files = [
        path
        for kind in ("*.py", "*.css", "*.j2", "*.js")
        for path in layer.rglob(kind)
        if path.name != "theme.py"
    ]
    assert len(files) > 10
    for path in files:
        found = re.findall(r"(?<![&\w])#(?:[0-9a-fA-F]{6}|[0-9a-fA-F]{3})\b", path.read_text(encoding="utf-8"))
        assert not found, f"{path.name} names {found}; colours belong in theme.py"


def test_chart_config_uses_the_theme():
    config = theme.chart_config()
    assert config["range"]["category"] == list(theme.SERIES)
    assert config["font"] == theme.FONT


def test_style_variables_hold_each_name_once():
    names = re.findall(r"--([\w-]+):", theme.style_variables())
    assert len(names) == len(set(names)) and "warning" in names

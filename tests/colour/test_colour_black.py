"""Blacks and near-blacks: what stays one ink, what keeps its hue, and what a press makes of shadows."""

from pathlib import Path

import pytest

from limner.colour import Palette, Press

# Ghostscript's own CMYK profile (Debian package libgs-common).
GHOSTSCRIPT = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")


@pytest.fixture(scope="module")
def press():
    if not GHOSTSCRIPT.exists():
        pytest.skip("no CMYK profile is installed (Debian package libgs-common brings one)")
    return Press(GHOSTSCRIPT.read_bytes(), GHOSTSCRIPT.name)


@pytest.mark.parametrize("written", ["#3d2b1f", "#1f2b3d", "#2f3d2b"])
def test_dark_colours_of_lines_keep_their_hue(written):
    """Sepia, a night blue and a moss are inks of their own, not greys: their channels are 18 to 30 apart."""
    assert not Palette({}, Press()).of(written, one_ink=True).is_single_ink


@pytest.mark.parametrize("written", ["#33312c", "#2c3133", "#30303a"])
def test_a_grey_that_leans_a_little_is_still_one_ink(written):
    """Up to ten steps of 255 no eye tells from grey in a thin line."""
    assert Palette({}, Press()).of(written, one_ink=True).is_single_ink


def test_black_of_the_screen_and_of_the_press_are_one(press):
    """Black point compensation (ISO 18619) takes the darkest of one to the darkest of the other."""
    # There and back through tables of whole bytes; without compensation it comes back as 41 of 255.
    assert press.screen(press.cmyk((0, 0, 0))) == pytest.approx((0, 0, 0), abs=10)


def test_shadows_stay_apart(press):
    """Without compensation, all that is darker than the press can print would become one black."""
    blacks = [press.cmyk((level, level, level))[3] for level in (0, 10, 20, 30, 40)]
    assert blacks == sorted(blacks, reverse=True)
    # A sixth of the way from black to white takes more than a tenth of the black ink off.
    assert blacks[0] - blacks[-1] > 10

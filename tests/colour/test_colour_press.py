import colorsys
import hashlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limner.colour import Palette, Press, parse_colour, standout_colour
from limner.colour.press import cmyk_to_screen_naive, lab_from_screen, rgb_to_cmyk_naive
from limner.errors import InputError
from limner.model.colour import PressColour

# Ghostscript's own CMYK profile (Debian package libgs-common).
GHOSTSCRIPT = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")
# Made from the FOGRA39L characterisation data (Debian packages icc-profiles-free, texlive-base).
FOGRA39 = [
    Path("/usr/share/color/icc/colord/FOGRA39L_coated.icc"),
    Path("/usr/share/texlive/texmf-dist/tex/generic/colorprofiles/FOGRA39L_coated.icc"),
    Path("/usr/share/color/icc/ISOcoated_v2_eci.icc"),
]

# Solids of the FOGRA39L characterisation data, measured Lab (project's table of check values).
FOGRA39_SOLIDS = {
    (0, 0, 0, 0): (95, 0, -2),
    (100, 0, 0, 0): (55, -37, -50),
    (0, 100, 0, 0): (48, 74, -3),
    (0, 0, 100, 0): (89, -5, 93),
    (0, 0, 0, 100): (16, 0, 0),
    (0, 100, 100, 0): (47, 68, 48),
    (100, 0, 100, 0): (50, -65, 27),
    (100, 100, 0, 0): (24, 22, -46),
}


@pytest.fixture(scope="module")
def press():
    if not GHOSTSCRIPT.exists():
        pytest.skip("no CMYK profile is installed (Debian package libgs-common brings one)")
    return Press(GHOSTSCRIPT.read_bytes(), GHOSTSCRIPT.name)


def test_the_formula_is_that_of_css_color_5():
    # CSS Color 5, example of device-cmyk(0 81% 81% 30%): rgb(178.5 33.915 33.915).
    assert cmyk_to_screen_naive((0, 81, 81, 30)) == pytest.approx((178.5, 33.9, 33.9), abs=0.6)


@given(st.tuples(*[st.integers(0, 255)] * 3))
def test_without_a_profile_screen_to_press_and_back_is_the_same(rgb):
    assert cmyk_to_screen_naive(rgb_to_cmyk_naive(rgb)) == pytest.approx(rgb, abs=1)


@given(st.tuples(*[st.integers(0, 255)] * 3))
def test_the_formula_uses_as_much_black_as_it_can(rgb):
    cyan, magenta, yellow, black = rgb_to_cmyk_naive(rgb)
    assert min(cyan, magenta, yellow) == 0
    # Black is what the hexcone model calls 1 - value (standard library, colorsys).
    value = colorsys.rgb_to_hsv(*(v / 255 for v in rgb))[2]
    assert black == pytest.approx(100 * (1 - value), abs=0.05)


def test_lab_of_screen_white_and_primaries():
    # sRGB in CIE Lab under D50, adapted by Bradford (Lindbloom's published values, from memory).
    assert lab_from_screen((255, 255, 255)) == pytest.approx((100, 0, 0), abs=1)
    assert lab_from_screen((255, 0, 0)) == pytest.approx((54.3, 80.8, 69.9), abs=1)
    assert lab_from_screen((0, 0, 255)) == pytest.approx((29.6, 68.3, -112.0), abs=1)


def test_press_values_given_are_kept(press):
    for converter in (press, Press()):
        colour = Palette({"kelp": parse_colour([70, 20, 80, 30])}, converter).of("kelp")
        assert colour.cmyk == (70, 20, 80, 30)
        assert colour.source == "given"


def test_rgb_goes_through_the_profile_and_comes_back_near(press):
    sand = Palette({}, press).of("#ecd9bf")
    assert sand.source == "profile"
    assert sand.screen == "#ecd9bf"
    assert sand.shift is not None
    assert sand.shift < 3
    assert press.screen(sand.cmyk) == pytest.approx((236, 217, 191), abs=4)


def test_a_colour_out_of_the_gamut_is_known_by_its_shift(press):
    # No offset press prints the blue of a screen.
    assert Palette({}, press).of("#0000ff").shift > 20


def test_without_a_profile_the_value_is_marked_as_approximate():
    colour = Palette({}, Press()).of("#ecd9bf")
    assert (colour.source, colour.shift) == ("approximate", None)


@pytest.mark.parametrize("written", ["#000", "#222222", "#808080", "#0a0a0c"])
def test_greys_of_lines_and_text_print_in_one_ink(press, written):
    for converter in (press, Press()):
        colour = Palette({}, converter).of(written, one_ink=True)
        assert colour.is_single_ink
        assert colour.cmyk[3] > 0
        # What the rule for fine lines changed is no mistake of the colour: nobody calls it too vivid.
        assert (colour.source, colour.shift) == ("one-ink", None)
    assert Palette({}, press).of("#000", one_ink=True).cmyk == (0, 0, 0, 100)
    # The same black as an area would be about 300 percent of ink.
    assert Palette({}, press).of("#000").total_ink > 250


def test_white_is_bare_paper(press):
    assert press.cmyk((255, 255, 255)) == (0, 0, 0, 0)


def test_an_unknown_colour_suggests_the_nearest_name():
    palette = Palette({"kelp": parse_colour("#4a6b3a"), "sand": parse_colour("#ecd9bf")}, Press())
    with pytest.raises(InputError, match=r'fill "klep" .* did you mean "kelp"'):
        palette.of("klep", what="fill")
    with pytest.raises(InputError, match=r'"black", "white", "kelp" and "sand"'):
        palette.of("zzz")
    with pytest.raises(InputError, match="#12"):
        palette.of("#12")


def test_not_a_profile_and_not_a_press_are_refused():
    with pytest.raises(InputError, match=r"press\.icc is not an ICC profile"):
        Press(b"nonsense", "press.icc")
    with pytest.raises(InputError, match="not an ICC profile"):
        Press(b"", "press.icc")


@pytest.mark.parametrize("kept", [0.001, 0.3, 0.99, 1.0])
def test_a_profile_that_is_cut_short_is_refused(press, kept):
    """Today's readers open what has a whole header, and fail once a colour is converted."""
    whole = press.profile
    data = whole[: max(int(kept * len(whole)) - 1, 128)]
    with pytest.raises(InputError, match=r"press.icc is damaged or cut short: copy it again"):
        Press(data, "press.icc")


def test_a_profile_whose_tables_are_damaged_is_refused(press):
    """The table of tags begins at byte 128 with their number (ICC.1:2010, 7.3, from memory)."""
    data = bytearray(press.profile)
    data[132:400] = bytes(268)
    with pytest.raises(InputError, match=r"press.icc is (damaged or cut short|not an ICC profile)"):
        Press(bytes(data), "press.icc")


def test_a_profile_is_held_to_the_digest_that_it_states(press):
    """ICC.1:2010, 7.2.18: the MD5 of the profile with flags, intent and the digest itself as zeros."""
    data = bytearray(press.profile)
    for start, end in ((44, 48), (64, 68), (84, 100)):
        data[start:end] = bytes(end - start)
    data[84:100] = hashlib.md5(bytes(data)).digest()
    assert Press(bytes(data), "press.icc").is_calibrated
    data[-5000] ^= 0xFF
    with pytest.raises(InputError, match=r"press.icc is damaged"):
        Press(bytes(data), "press.icc")


def test_a_screen_profile_is_no_press():
    from PIL import ImageCms

    screen = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    with pytest.raises(InputError, match="for RGB, not for a press"):
        Press(screen, "screen.icc")


def test_solids_of_fogra39_through_a_profile_made_from_it():
    found = next((path for path in FOGRA39 if path.exists()), None)
    if found is None:
        pytest.skip("no profile of FOGRA39 is installed (Debian's texlive-base brings one)")
    press = Press(found.read_bytes(), found.name)
    for inks, measured in FOGRA39_SOLIDS.items():
        lab = press.lab(tuple(float(ink) for ink in inks), paper_white=False)
        difference = sum((a - b) ** 2 for a, b in zip(lab, measured, strict=True)) ** 0.5
        assert difference < 3, (inks, lab, measured)


@pytest.mark.parametrize("used", [[], ["#ff00ff"], ["#ff00ff", "#00ff40", "#00ffff"], ["#000000", "#ffffff"]])
def test_the_cut_colour_stands_out_from_all_in_use(used):
    colour = standout_colour("Cutting", used)
    lab = lab_from_screen(tuple(int(colour.screen[i : i + 2], 16) for i in (1, 3, 5)))
    for other in [*used, "#ffffff"]:
        rgb = tuple(int(other[i : i + 2], 16) for i in (1, 3, 5))
        # Ten times what the eye notices when two colours lie side by side (common practice).
        assert sum((a - b) ** 2 for a, b in zip(lab, lab_from_screen(rgb), strict=True)) ** 0.5 > 30


def test_total_ink_and_single_ink():
    assert PressColour("x", (70, 20, 80, 30), "#000000", "given").total_ink == 200
    assert not PressColour("x", (0, 0, 1, 99), "#000000", "given").is_single_ink
    with pytest.raises(ValueError, match="percentages"):
        PressColour("x", (0, 0, 0, 100.5), "#000000", "given")

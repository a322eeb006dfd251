import contextlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limner.colour import BUILT_IN, ColourSpec, Palette, Press, parse_colour
from limner.colour.tints import TINT_INKS
from limner.errors import InputError
from limner.regions.areas.sketch_colours import PALETTE


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("#ecd9bf", ColourSpec(rgb=(236, 217, 191))),
        ("#FFF", ColourSpec(rgb=(255, 255, 255))),
        ("#a0c", ColourSpec(rgb=(170, 0, 204))),
        ([70, 20, 80, 30], ColourSpec(cmyk=(70.0, 20.0, 80.0, 30.0))),
        ({"cmyk": [0, 0, 0, 100]}, ColourSpec(cmyk=(0.0, 0.0, 0.0, 100.0))),
        ({"cmyk": [0, 0.5, 0, 0], "screen": "#fffefe"}, ColourSpec((255, 254, 254), (0.0, 0.5, 0.0, 0.0))),
        ({"screen": "#010203"}, ColourSpec(rgb=(1, 2, 3))),
    ],
)
def test_colours_are_read_as_written(written, read):
    assert parse_colour(written) == read


@pytest.mark.parametrize(
    "written",
    [
        "ecd9bf",
        "#ecd9b",
        "#ggg",
        "",
        [70, 20, 80],
        [70, 20, 80, 101],
        [70, 20, 80, -1],
        [70, 20, 80, float("nan")],
        [70, 20, 80, True],
        [70, 20, 80, "30"],
        {},
        {"cmyk": "70"},
        {"cmyk": [1, 2, 3, 4], "spot": "Warm Grey"},
        {"screen": 3},
        3,
        None,
    ],
)
def test_anything_else_is_refused_in_one_sentence(written):
    with pytest.raises(InputError) as caught:
        parse_colour(written, "fill")
    assert str(caught.value).startswith("fill")
    assert str(caught.value).endswith(".")


@given(st.recursive(st.none() | st.booleans() | st.floats() | st.text(max_size=8), st.lists))
def test_no_value_gives_a_traceback(value):
    with contextlib.suppress(InputError):
        assert isinstance(parse_colour(value), ColourSpec)


def test_a_colour_needs_a_value():
    with pytest.raises(ValueError, match="RGB or in CMYK"):
        ColourSpec()


def test_black_is_one_full_ink_and_white_is_paper():
    assert BUILT_IN["black"].cmyk == (0, 0, 0, 100)
    assert BUILT_IN["white"].cmyk == (0, 0, 0, 0)


def test_every_tint_that_an_area_can_get_has_inks_of_its_own():
    palette = Palette({}, Press())
    for screen in PALETTE:
        colour = palette.of(screen)
        assert (colour.source, colour.screen) == ("default", screen)
        # Far below the 300 percent at which coated paper takes no more (common practice).
        assert colour.total_ink <= 100


def test_the_inks_of_the_tints_come_near_on_a_real_press():
    # Ghostscript's own CMYK profile (Debian package libgs-common).
    path = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")
    if not path.exists():
        pytest.skip("no CMYK profile is installed (Debian package libgs-common brings one)")
    press = Press(path.read_bytes())
    for screen, inks in TINT_INKS.items():
        # Twice what the eye notices side by side (common practice).
        assert press.shift(tuple(int(screen[i : i + 2], 16) for i in (1, 3, 5)), inks) < 4.6, screen


def test_white_needs_no_ink():
    assert Palette({}, Press()).of("#ffffff").cmyk == (0, 0, 0, 0)

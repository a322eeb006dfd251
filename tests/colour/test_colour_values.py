import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limner.colour import BUILT_IN, DEFAULT_TINTS, ColourSpec, default_tint, parse_colour
from limner.errors import InputError


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


def test_default_tints_differ_are_light_and_come_round_again():
    assert len(set(DEFAULT_TINTS)) == len(DEFAULT_TINTS)
    # Far below the 300 percent at which coated paper takes no more (common practice).
    assert all(sum(tint.cmyk) <= 100 for tint in DEFAULT_TINTS)
    assert default_tint(len(DEFAULT_TINTS) + 2) == DEFAULT_TINTS[2]

"""Lengths as people write them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limner.errors import InputError
from limner.geometry.lengths import ISO_216_MM, paper_choice, parse_length


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("2.5 mm", 2.5),
        ("2.5mm", 2.5),
        (" 3 ", 3.0),
        (4, 4.0),
        ("10 pt", 10 * 25.4 / 72),  # the point of ISO 32000: 1/72 inch
        ("0.1in", 2.54),
        ("1 cm", 10.0),
        ("1e1 MM", 10.0),
        (".5", 0.5),
        ("-1 mm", -1.0),
    ],
)
def test_lengths(text: str | float, mm: float) -> None:
    assert parse_length(text) == pytest.approx(mm, rel=1e-12)


@pytest.mark.parametrize(
    "text", ["", "mm", "2.5 px", "2,5 mm", "1 2", "nan", "inf", "1e999", "2.5 mm!", "٣ mm\n\n!"]
)
def test_what_is_no_length_is_refused_with_its_name(text: str) -> None:
    with pytest.raises(InputError, match="--width"):
        parse_length(text, "--width")


@given(st.text())
def test_any_text_is_a_finite_length_or_refused(text: str) -> None:
    try:
        value = parse_length(text)
    except InputError:
        return
    assert math.isfinite(value)


def test_iso_216_halves_the_long_side_and_rounds_down() -> None:
    # The rule of ISO 216 (from memory): each size is the one before it, cut in half across.
    for number in range(8):
        short, long = ISO_216_MM[f"A{number}"]
        assert ISO_216_MM[f"A{number + 1}"] == (long // 2, short)


@pytest.mark.parametrize(
    ("text", "choice"),
    [
        ("auto", "auto"),
        (" None ", "none"),
        ("a4", "A4"),
        ("B5", "B5"),
        ("A77", None),
        ("", None),
        ("letter", None),
    ],
)
def test_a_sheet_is_named_however_it_is_written(text: str, choice: str | None) -> None:
    assert paper_choice(text) == choice

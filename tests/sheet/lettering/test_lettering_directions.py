"""Text in both directions: the order by UAX #9, and the glyphs of a font that has Hebrew and Arabic."""

from pathlib import Path

import matplotlib
import numpy as np
import pytest
from bidi import get_display
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

from limner.model.colour import PressColour
from limner.sheet.lettering.directions import Run, visual_runs
from limner.sheet.lettering.fonts import open_face
from limner.sheet.lettering.scripts import script_runs
from limner.sheet.lettering.setting import LetteringSettings, set_lettering

INK = PressColour("ink", (0, 0, 0, 100), "#000000", "given")
# DejaVu Sans, which comes with matplotlib, has Latin, Hebrew and Arabic letters.
FONT = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf"
FACE = open_face(FONT)
NAMES = TTFont(FONT).getBestCmap()

# As the examples of UAX #9 write it: capitals run from right to left, ">" and "<" begin an isolate from left
# to right and from right to left, "=" ends one.
ALEF = 0x5D0
SIGNS = {">": "\u2066", "<": "\u2067", "=": "\u2069"}


def written(example: str) -> str:
    return "".join(SIGNS.get(c, chr(ALEF + ord(c) - ord("A")) if c.isupper() else c) for c in example)


def shown(line: str) -> str:
    """A line as its runs stand, from left to right."""
    parts = [(line[run.start : run.end], run.is_rtl) for run in visual_runs(line)]
    return "".join(part[::-1] if is_rtl else part for part, is_rtl in parts)


@pytest.mark.parametrize(
    ("stored", "display"),
    [
        # UAX #9, rule L2, examples 1 to 4 (revisions since 6.3, which brought the isolates).
        ("car means CAR.", "car means RAC."),
        ("<car MEANS CAR.=", "<.RAC SNAEM car="),
        (
            'he said "<car MEANS CAR=." "<IT DOES=," she agreed.',
            'he said "<RAC SNAEM car=." "<SEOD TI=," she agreed.',
        ),
        ("DID YOU SAY '>he said \"<car MEANS CAR=\"='?", "?'=he said \"<RAC SNAEM car=\">' YAS UOY DID"),
        # Numbers keep their order in text that runs the other way (W4, W5 and I2).
        ("TIDE 12.5", "12.5 EDIT"),
        ("FROM 10% TO 20%", "20% OT 10% MORF"),
        # A pair of brackets goes with what is inside of it or around it (N0).
        ("a (B) c", "a (B) c"),
        ("AB(CD[&ef]!)gh", "gh)!]ef&[DC(BA"),  # the example of rule N0; brackets are mirrored by the glyphs
    ],
)
def test_the_examples_of_uax_9(stored: str, display: str) -> None:
    assert shown(written(stored)) == written(display)


@pytest.mark.parametrize("line", ["", "Tide Pool 12", "été", "Ж 1,5"])
def test_a_line_without_any_of_it_is_one_run(line: str) -> None:
    assert visual_runs(line) == ([Run(0, len(line), is_rtl=False)] if line else [])


_MARK = "\u05b8"
_SIGNS = "ab 12\u0663,.-+/%$()[]\u05d0\u05d1\u0634\u0627\u00a0" + _MARK


@given(st.text(alphabet=_SIGNS, max_size=24))
def test_any_line_is_ordered_as_the_library_shows_it(line: str) -> None:
    """The library's own picture of the line, which the numbers must not have disturbed."""
    runs = visual_runs(line)
    assert sorted(at for run in runs for at in range(run.start, run.end)) == list(range(len(line)))
    parts = [(line[run.start : run.end], run.is_rtl) for run in runs]
    assert "".join(part[::-1] if is_rtl else part for part, is_rtl in parts) == get_display(line)


@given(st.text(alphabet=_SIGNS + "\u2066\u2067\u2068\u2069\u202a\u202b\u202c\u202e\u200d\u00ad", max_size=24))
def test_every_letter_of_any_line_stands_somewhere_once(line: str) -> None:
    runs = visual_runs(line)
    assert sorted(at for run in runs for at in range(run.start, run.end)) == list(range(len(line)))
    cut = script_runs(line, runs)
    assert sorted(at for run in cut for at in range(run.start, run.end)) == list(range(len(line)))


def names(text: str) -> list[str]:
    return [glyph.name for glyph in FACE.shape(text)]


def glyphs_of(text: str) -> list[str]:
    return [NAMES[ord(letter)] for letter in text]


def test_digits_in_hebrew_are_not_reversed() -> None:
    """Shaped as one run from right to left, 125 printed as 521."""
    assert names("\u05d0\u05d1 125") == glyphs_of("125 \u05d1\u05d0")


def test_a_latin_word_in_hebrew_and_a_hebrew_word_in_latin() -> None:
    assert names("\u05d0\u05d1 reef \u05d2") == glyphs_of("\u05d2 reef \u05d1\u05d0")
    assert names("at \u05d0\u05d1 reef") == glyphs_of("at \u05d1\u05d0 reef")


def test_brackets_are_mirrored_where_they_run_from_right_to_left() -> None:
    assert names("\u05d0(\u05d1)") == glyphs_of("(\u05d1)\u05d0")


def test_arabic_letters_join_across_what_stands_between() -> None:
    """The three forms of a letter at the start, in the middle and at the end of a word, and alone."""
    seen = "\u0633"
    (alone,) = names(seen)
    last, middle, first = names(seen * 3)
    assert len({alone, first, middle, last}) == 4
    assert names(f"{seen}\u200d")[-1] == first


def test_marks_stay_on_their_letters() -> None:
    """A vowel point under the first of two Hebrew letters lies under the right one."""
    placed = set_lettering(LetteringSettings("\u05d1\u05b8\u05d1", 10.0, 0.0, 0.0), FACE, INK)
    boxes = {
        glyph.name: np.array([path.segments.reshape(-1, 2) for path in glyph.paths[:1]])[0]
        for glyph in placed.glyphs
    }
    point = boxes[NAMES[0x5B8]]
    assert point[:, 0].min() > 0, "the line is centred about 0, and its first letter stands on the right"


def test_scripts_are_shaped_apart() -> None:
    line = "12 ab \u0436\u0437 3"
    runs = script_runs(line, visual_runs(line))
    assert [(line[run.start : run.end], run.script) for run in runs] == [
        ("12 ab ", "Latn"),
        ("\u0436\u0437 3", "Cyrl"),
    ]


def test_the_language_of_the_machine_changes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    before = names("fi \u05d0 12")
    for name in ("LANG", "LC_ALL"):
        monkeypatch.setenv(name, "tr_TR.UTF-8")
    assert names("fi \u05d0 12") == before

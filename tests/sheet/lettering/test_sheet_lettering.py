from pathlib import Path

import font_source_sans_pro
import numpy as np
import pytest
import uharfbuzz
from fontTools.pens.areaPen import AreaPen
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont
from hypothesis import given, settings
from hypothesis import strategies as st

from limner.errors import InputError
from limner.geometry.cubics import signed_area
from limner.model.colour import PressColour
from limner.sheet.lettering.fonts import default_face, open_face
from limner.sheet.lettering.setting import LetteringSettings, set_lettering

INK = PressColour("ink", (0, 0, 0, 100), "#000000", "given")
FONTS = Path(font_source_sans_pro.__file__).parent / "files"
TEXT_FONT, DISPLAY = FONTS / "SourceSansPro-Regular.otf", default_face("display")
FACE = default_face("text")
UNITS = TTFont(TEXT_FONT)["head"].unitsPerEm


def lettering(text, face=FACE, **others):
    return set_lettering(LetteringSettings(text, others.pop("size", 10.0), 0.0, 0.0, **others), face, INK)


def area(glyph):
    return sum(signed_area(path) for path in glyph.paths)


@pytest.mark.parametrize("name", ["SourceSansPro-Regular.otf", "SourceSansPro-Bold.ttf"])
@pytest.mark.parametrize("character", "AgS&8\N{LATIN SMALL LETTER A WITH DIAERESIS}")
def test_outlines_have_the_area_and_bounds_that_fonttools_measures(name, character):
    font = TTFont(FONTS / name)
    glyphs, glyph_name = font.getGlyphSet(), font.getBestCmap()[ord(character)]
    area_pen, bounds_pen = AreaPen(glyphs), BoundsPen(glyphs)
    glyphs[glyph_name].draw(area_pen)
    glyphs[glyph_name].draw(bounds_pen)
    placed = lettering(character, open_face(FONTS / name), align="left", size=font["head"].unitsPerEm)
    (glyph,) = placed.glyphs
    # Drawn with y downwards, the same winding has the opposite sign.
    assert -area(glyph) == pytest.approx(area_pen.value, rel=1e-9)
    left, bottom, right, top = bounds_pen.bounds
    assert placed.box == pytest.approx((left, -top, right, -bottom), abs=1e-6)


def test_kerning_and_ligatures_are_those_of_harfbuzz():
    buffer = uharfbuzz.Buffer()
    buffer.add_str("AVAfi")
    buffer.guess_segment_properties()
    uharfbuzz.shape(uharfbuzz.Font(uharfbuzz.Face(TEXT_FONT.read_bytes())), buffer)
    width = sum(place.x_advance for place in buffer.glyph_positions)
    shaped = FACE.shape("AVAfi")
    assert sum(glyph.advance for glyph in shaped) == width
    plain = sum(FACE.shape(letter)[0].advance for letter in "AVAfi")
    assert width < plain
    assert len(lettering("ffi").glyphs) < 3


def test_outlines_are_closed_and_one_glyph_is_one_shape():
    placed = lettering("Tide Pool", DISPLAY)
    assert [glyph.name for glyph in placed.glyphs] == ["T", "i", "d", "e", "P", "o", "o", "l"]
    assert all(path.closed for glyph in placed.glyphs for path in glyph.paths)
    assert len(placed.glyphs[1].paths) == 2


@pytest.mark.parametrize(("align", "share"), [("left", 0.0), ("middle", 0.5), ("right", 1.0)])
def test_alignment_moves_each_line_by_its_own_width(align, share):
    placed = lettering("HHH\nH", align=align)
    scale = 10.0 / UNITS
    advance = FACE.shape("H")[0].advance * scale
    firsts = [glyph.paths[0].segments[:, :, 0].min() for glyph in placed.glyphs]
    bearing = lettering("H", align="left").box[0]
    assert firsts[0] == pytest.approx(bearing - share * 3 * advance)
    assert firsts[3] == pytest.approx(bearing - share * advance)
    # Baselines lie leading times the size apart.
    bottoms = [glyph.paths[0].segments[:, :, 1].max() for glyph in placed.glyphs]
    assert bottoms[3] - bottoms[0] == pytest.approx(12.0)


def points_of(placed):
    return np.concatenate([path.segments.reshape(-1, 2) for glyph in placed.glyphs for path in glyph.paths])


def test_rotation_turns_everything_about_the_anchor_clockwise():
    straight, turned = points_of(lettering("Shell")), points_of(lettering("Shell", rotate_deg=90))
    # Clockwise to the eye with y downwards: x goes to y.
    assert turned == pytest.approx(np.stack([-straight[:, 1], straight[:, 0]], axis=1), abs=1e-9)


@pytest.mark.parametrize("radius", [25.0, -25.0])
def test_on_an_arc_every_baseline_point_lies_on_the_circle(radius):
    placed = lettering("HHHHHHHH", arc_mm=radius)
    centre = np.array([0.0, radius])
    for glyph in placed.glyphs:
        points = points_of(type(placed)("", "", 1, INK, (glyph,), 0, 0, 0, "", (0, 0, 1, 1)))
        distance = np.linalg.norm(points - centre, axis=1)
        foot = distance.min() if radius > 0 else distance.max()
        half = np.ptp(lettering("H").box[::2]) / 2
        # The middle of the letter's foot touches the circle; its corners lie on a tangent to it.
        assert foot == pytest.approx(abs(radius) if radius > 0 else np.hypot(radius, half), rel=2e-3)


def test_a_large_arc_is_nearly_straight():
    arc, straight = points_of(lettering("Tide", arc_mm=1e6)), points_of(lettering("Tide"))
    assert arc == pytest.approx(straight, abs=1e-3)


def test_an_arc_is_symmetric_about_its_anchor():
    box = lettering("HOH", arc_mm=15.0).box
    assert box[0] == pytest.approx(-box[2], abs=0.05)


@pytest.mark.parametrize(("text", "radius"), [("much too long for it", 5.0), ("one\ntwo\nthree", 15.0)])
def test_what_does_not_fit_an_arc_is_refused(text, radius):
    with pytest.raises(InputError, match="does not fit on its arc"):
        lettering(text, arc_mm=radius)


def test_missing_letters_are_named():
    with pytest.raises(InputError, match=r'Source Sans Pro has no letters for "\u5b57" \(U\+5B57\)'):
        lettering("a\u5b57")


@pytest.mark.parametrize("text", ["a\tb", "a\x00", "\x1b[31m", "a\x7f", "\x85", "a\u2028b", "a\U000e0041"])
def test_control_characters_are_refused(text):
    with pytest.raises(InputError, match=r"control character U\+"):
        lettering(text)


@pytest.mark.parametrize("blank", ["\u00a0", "\u202f", "\u00ad", "\u200d", "\u200c", "\u200e", "\u2067"])
def test_blanks_soft_hyphens_joiners_and_marks_of_direction_are_text(blank):
    """They are set without ink; only the spaces among them take room."""
    plain, with_blank = lettering("ab"), lettering(f"a{blank}b")
    assert [glyph.name for glyph in with_blank.glyphs] == [glyph.name for glyph in plain.glyphs]
    wider = (with_blank.box[2] - with_blank.box[0]) - (plain.box[2] - plain.box[0])
    assert (wider > 0.5) if blank in "\u00a0\u202f" else abs(wider) < 0.5


def test_text_without_ink_is_refused():
    with pytest.raises(InputError, match="no visible letter"):
        lettering("  \n ")


@pytest.mark.parametrize("data", [b"", b"not a font", TEXT_FONT.read_bytes()[:3000]])
def test_damaged_fonts_are_refused(tmp_path, data):
    path = tmp_path / "bad.otf"
    path.write_bytes(data)
    with pytest.raises(InputError, match="font"):
        lettering("Tide", open_face(path))


def test_a_missing_font_and_a_folder_are_refused(tmp_path):
    for path in (tmp_path / "none.ttf", tmp_path):
        with pytest.raises(InputError, match="is not there"):
            open_face(path)


@pytest.mark.parametrize("flavor", ["woff", "woff2"])
def test_a_packed_font_gives_the_same_outlines(tmp_path, flavor):
    font = TTFont(FONTS / "SourceSansPro-Bold.ttf")
    font.flavor = flavor
    font.save(tmp_path / f"packed.{flavor}")
    packed = lettering("Tide", open_face(tmp_path / f"packed.{flavor}"))
    plain = lettering("Tide", open_face(FONTS / "SourceSansPro-Bold.ttf"))
    assert np.array_equal(points_of(packed), points_of(plain))


@pytest.mark.slow
@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_font_with_flipped_bytes_never_gives_a_traceback(tmp_path_factory, data):
    original = bytearray((FONTS / "SourceSansPro-Light.ttf").read_bytes())
    for _ in range(data.draw(st.integers(1, 20))):
        original[data.draw(st.integers(0, len(original) - 1))] = data.draw(st.integers(0, 255))
    path = tmp_path_factory.mktemp("fonts") / "flipped.ttf"
    path.write_bytes(bytes(original))
    try:
        placed = lettering("Tide Pool", open_face(path))
    except InputError:
        return
    assert placed.glyphs


@settings(max_examples=40, deadline=None)
@given(st.text(max_size=20))
def test_any_text_is_set_or_refused_in_one_sentence(text):
    try:
        placed = lettering(text)
    except InputError:
        return
    assert placed.text == text
    assert all(path.closed for glyph in placed.glyphs for path in glyph.paths)

"""Each check finds its own mistake, at its place, and keeps quiet on a sound sheet."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers_sheet import (
    INK,
    SAND,
    SHELL,
    WHITE,
    coloured,
    cut_around,
    ellipse,
    lettering,
    polar,
    shifted,
    spoilt,
    sticker,
    tide_pool,
    with_sticker,
)
from limner.colour import Palette, Press
from limner.geometry.cubics import polygon_path, reverse
from limner.model.colour import PressColour
from limner.model.finding import Finding
from limner.model.geometry import CubicPath
from limner.model.sheet import PlacedSticker, Sheet
from limner.preflight.checks import CHECKS, check_sheet
from limner.preflight.settings import PreflightSettings
from limner.preflight.survey.contrast import contrast_ratio
from limner.preflight.survey.sheet import mean_width, shortest_way

MM_PER_PT = 25.4 / 72.0


def codes(sheet: Sheet) -> list[str]:
    return [finding.code for finding in check_sheet(sheet)]


def only(sheet: Sheet) -> Finding:
    (finding,) = check_sheet(sheet)
    return finding


def with_cut(index: int, path: CubicPath, **changes: object) -> Sheet:
    sheet = tide_pool()
    return with_sticker(sheet, index, cut=replace(sheet.stickers[index].cut, path=path, **changes))


def moved(index: int, dx: float, dy: float) -> Sheet:
    sheet = tide_pool()
    stickers = list(sheet.stickers)
    stickers[index] = shifted(stickers[index], dx, dy)
    return replace(sheet, stickers=tuple(stickers))


def disc(name: str, x: float, y: float, radius: float, distance: float) -> PlacedSticker:
    """A disc with a circular cut line at an exact distance (but for 2.7e-4 of the radius, by four cubics)."""
    fills = [coloured("disc", "area", [ellipse(x, y, radius, radius)], SHELL)]
    return sticker(
        name, fills, [], cut_around(fills, ellipse(x, y, radius + distance, radius + distance), "circle")
    )


def sheet_of(*stickers: PlacedSticker) -> Sheet:
    return replace(tide_pool(), stickers=stickers, letterings=(), colours=(SAND, SHELL))


def test_a_sound_sheet_has_no_findings():
    assert check_sheet(tide_pool()) == ()


# Cutting --------------------------------------------------------------------------------------------------


def test_no_sticker():
    finding = only(replace(tide_pool(), stickers=()))
    assert (finding.severity, finding.code, finding.where_mm) == ("error", "sheet-empty", None)


def test_an_open_cut_line():
    whole = tide_pool().stickers[3].cut.path
    part = CubicPath(whole.segments[:3], whole.straight[:3], np.array([False, True, True]), closed=False)
    findings = [finding for finding in check_sheet(with_cut(3, part)) if finding.code == "cut-open"]
    assert findings[0].severity == "error"
    assert findings[0].where_mm == pytest.approx(tuple(whole.segments[2, 3]), abs=1e-3)


def test_a_cut_line_that_crosses_itself():
    bow = polygon_path(np.array([(20.0, 110), (52, 138), (52, 110), (20, 138)]))
    findings = {finding.code: finding for finding in check_sheet(with_cut(3, bow))}
    crossing = findings["cut-crosses-itself"]
    assert crossing.severity == "error"
    assert crossing.where_mm == pytest.approx((36, 124), abs=1e-3), (
        "the diagonals of a rectangle meet in its middle"
    )


@pytest.mark.parametrize(("distance", "found"), [(2.5, False), (2.46, False), (2.44, True), (1.0, True)])
def test_the_distance_is_measured_anew(distance, found):
    """Two circles about one centre are their radii's difference apart; the promise is 2.5 mm less 0.05 mm."""
    item = disc("disc", 50, 70, 10, distance)
    # What the stage claims of its own work is not believed.
    item = replace(item, cut=replace(item.cut, min_distance_mm=2.5))
    findings = check_sheet(sheet_of(item))
    assert [finding.code for finding in findings] == (["cut-too-near"] if found else [])
    if found:
        (finding,) = findings
        x, y = finding.where_mm
        assert math.dist((x, y), (50, 70)) == pytest.approx(10 + distance / 2, abs=0.01)
        assert f"{distance:.2f} mm" in finding.message
        assert "2.5 mm" in finding.message


def test_art_beyond_the_cut_line():
    item = disc("disc", 50, 70, 10, 2.5)
    spot = coloured("spot", "area", [ellipse(75, 70, 2, 2)], SHELL)
    finding = only(sheet_of(replace(item, fills=(*item.fills, spot))))
    assert (finding.severity, finding.code) == ("error", "art-outside-cut")
    assert finding.where_mm == pytest.approx((77, 70), abs=0.01), "the point farthest out"


def test_art_that_the_cut_line_runs_through():
    item = disc("disc", 50, 70, 10, 2.5)
    finding = only(sheet_of(replace(item, cut=replace(item.cut, path=ellipse(50, 70, 14, 9)))))
    assert finding.code == "art-outside-cut"


def test_a_cut_line_around_nothing():
    item = replace(disc("disc", 50, 70, 10, 2.5), fills=())
    assert only(sheet_of(item)).code == "cut-around-nothing"


def pierced(radius: float) -> CubicPath:
    """A block with a slot as wide as twice the radius, and a round end: an inner corner of that radius."""
    box = shapely.box(30, 50, 80, 100)
    slot = shapely.LineString([(55, 40), (55, 70)]).buffer(radius, 256)
    return polygon_path(shapely.get_coordinates(box.difference(slot).exterior)[:-1])


@pytest.mark.parametrize(
    ("radius", "found"), [(1.2, False), (1.0, False), (0.96, False), (0.9, True), (0.3, True)]
)
def test_inner_corners(radius, found):
    """The smallest radius is 1 mm, within 0.05 mm."""
    item = disc("disc", 40, 85, 5, 2.5)
    item = replace(item, cut=replace(item.cut, path=pierced(radius)))
    findings = [finding for finding in check_sheet(sheet_of(item)) if finding.code == "cut-corner-tight"]
    assert len(findings) == found
    if found:
        x, y = findings[0].where_mm
        assert abs(x - 55) <= radius
        assert 49 <= y <= 70 + radius


def test_sharp_outer_corners_are_no_inner_ones():
    item = disc("disc", 50, 70, 5, 2.5)
    square = polygon_path(np.array([(40.0, 60), (60, 60), (60, 80), (40, 80)]))
    assert codes(sheet_of(replace(item, cut=replace(item.cut, path=square)))) == []


@pytest.mark.parametrize(
    ("apart", "code"),
    [(2.0, None), (2.5, None), (1.9, "cut-gap-small"), (0.05, "cuts-cross"), (-3.0, "cuts-cross")],
)
def test_the_gap_between_neighbours(apart, code):
    """Two cut circles of radius 8 whose centres are 16 mm and the gap apart; 2 mm are asked for."""
    pair = disc("one", 30, 70, 5.5, 2.5), disc("two", 46 + apart, 70, 5.5, 2.5)
    findings = check_sheet(sheet_of(*pair))
    assert [finding.code for finding in findings] == ([code] if code else [])
    if code:
        x, y = findings[0].where_mm
        assert x == pytest.approx(38 + apart / 2, abs=1.6)
        assert y == pytest.approx(70, abs=5.5)
        assert '"one"' in findings[0].message
        assert '"two"' in findings[0].message


def test_a_sticker_inside_another_ones_cut():
    assert codes(sheet_of(disc("outer", 50, 70, 25, 2.5), disc("inner", 50, 70, 5, 2.5))) == ["cuts-cross"]


def test_every_pair_is_named_once():
    row = [disc(f"disc {index}", 20 + 17.0 * index, 70, 5.5, 2.5) for index in range(5)]
    assert codes(sheet_of(*row)) == ["cut-gap-small"] * 4


@pytest.mark.parametrize(
    ("x", "code", "word"),
    [
        (3 + 4 + 8.0, None, ""),  # bleed, safe margin, radius of the cut line
        (3 + 2 + 8.0, "sticker-near-trim", "2.00 mm"),
        (3 + 0.5 + 8.0, "sticker-near-trim", "0.50 mm"),
        (3 - 0.5 + 8.0, "sticker-off-sheet", "0.50 mm"),
        (3 - 1.5 + 8.0, "sticker-off-sheet", "1.50 mm"),
    ],
)
def test_the_safe_margin(x, code, word):
    findings = check_sheet(sheet_of(disc("disc", x, 70, 5.5, 2.5)))
    assert [finding.code for finding in findings] == ([code] if code else [])
    if code:
        assert findings[0].where_mm == pytest.approx((x - 8.0, 70), abs=0.01)
        assert word in findings[0].message


@pytest.mark.parametrize("side", ["right", "top", "bottom"])
def test_the_other_sides_of_the_sheet(side):
    x, y = {"right": (103.0, 70.0), "top": (50.0, 8.0), "bottom": (50.0, 146.0)}[side]
    assert codes(sheet_of(disc("disc", x, y, 5.5, 2.5))) == ["sticker-off-sheet"]


def test_a_sticker_far_off_the_page():
    assert codes(sheet_of(disc("disc", -400, 70, 5.5, 2.5))) == ["sticker-off-sheet"]


def test_lettering_cut_through():
    findings = check_sheet(
        replace(tide_pool(), letterings=(lettering("lettering-1", "Tide Pool", 55.5, 38, 26),))
    )
    (finding,) = findings
    assert (finding.severity, finding.code) == ("error", "lettering-cut")
    ring = shapely.LinearRing(tide_pool().stickers[0].cut.path.nodes)
    assert ring.distance(shapely.Point(finding.where_mm)) < 1.0


def test_lettering_wholly_on_a_sticker_is_meant():
    assert codes(replace(tide_pool(), letterings=(lettering("lettering-1", "crab", 55.5, 54, 8),))) == []


@pytest.mark.parametrize(("y", "code"), [(149.0, "lettering-near-trim"), (153.5, "lettering-off-sheet")])
def test_lettering_near_the_trim(y, code):
    piece = lettering("lettering-1", "shore", 76, y, 8)
    assert codes(replace(tide_pool(), letterings=(piece,))) == [code]


def test_crowded_nodes_on_a_cut_line():
    """A circle of 8 mm is 5 cm long: 8 and 1.5 nodes per centimetre are 15."""
    item = disc("disc", 50, 70, 5.5, 2.5)
    many = polar(50, 70, lambda a: 8.0 + 0 * a, 16)
    finding = only(sheet_of(replace(item, cut=replace(item.cut, path=many))))
    assert (finding.severity, finding.code) == ("warning", "cut-nodes-many")
    assert "16 nodes where 15 would do" in finding.message
    few = polar(50, 70, lambda a: 8.0 + 0 * a, 15)
    assert codes(sheet_of(replace(item, cut=replace(item.cut, path=few)))) == []


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("Schnitt", None),
        ("ALL", "separation-reserved"),
        ("", "separation-reserved"),
        ("Öffnung", "separation-letters"),
    ],
)
def test_the_name_of_the_separation(name, code):
    sheet = tide_pool()
    found = codes(replace(sheet, separation=replace(sheet.separation, name=name)))
    assert found == ([code] if code else [])


# Printing -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("bleed", "severity"), [(3.0, None), (2.0, None), (1.0, "warning"), (0.0, "error")])
def test_the_bleed(bleed, severity):
    sheet = tide_pool()
    sheet = replace(sheet, page=replace(sheet.page, bleed_mm=bleed, trim_width_mm=111, trim_height_mm=154))
    found = [finding for finding in check_sheet(sheet) if finding.code == "bleed-small"]
    assert [finding.severity for finding in found] == ([severity] if severity else [])
    assert "bleed-small" not in codes(replace(sheet, background=None)), "bare paper needs no bleed"


@pytest.mark.parametrize(("width_pt", "found"), [(0.25, False), (0.24, True)])
def test_thin_lines(width_pt, found):
    """0.25 pt is the thinnest line that prints reliably: common practice, no source."""
    item = disc("disc", 50, 70, 5.5, 2.5)
    width = width_pt * MM_PER_PT
    thin = polygon_path(np.array([(46.0, 69.0), (54, 69), (54, 69 + width), (46, 69 + width)]))
    findings = check_sheet(sheet_of(replace(item, lines=(coloured("line", "line", [thin], INK),))))
    assert [finding.code for finding in findings] == (["line-thin"] if found else [])
    if found:
        assert findings[0].severity == "warning", "its other lines print"
        assert findings[0].where_mm == (46.0, 69.0)


def test_a_small_dot_is_no_thin_line():
    item = disc("disc", 50, 70, 5.5, 2.5)
    dot = coloured("dot", "line", [ellipse(50, 70, 0.08, 0.08)], INK)
    assert codes(sheet_of(replace(item, lines=(dot,)))) == []


def test_the_typical_line_of_a_sticker_counts_too():
    finding = only(with_sticker(tide_pool(), 0, line_width_mm=0.05, error_mm=0.02))
    assert (finding.severity, finding.code) == ("error", "line-thin")
    assert "0.14 pt (0.050 mm)" in finding.message


def test_mean_width_of_known_shapes():
    box = polygon_path(np.array([(0.0, 0), (7, 0), (7, 0.4), (0, 0.4)]))
    assert mean_width([box]) == pytest.approx(0.4, rel=1e-12)
    # A ring of radii 50 and 49: area pi (R^2 - r^2), outline 2 pi (R + r); its width is 1, and 1 / 311 more
    # for a rectangle that is bent into a ring loses its two ends.
    outer, hole = ellipse(0, 0, 50, 50), reverse(ellipse(0, 0, 49, 49))
    assert mean_width([outer, hole]) == pytest.approx(1.0, rel=5e-3)
    assert mean_width([ellipse(0, 0, 2, 2)]) == pytest.approx(math.pi, rel=1e-3), "a quarter of the outline"
    assert mean_width([]) == 0.0


@pytest.mark.parametrize(("size_pt", "found"), [(5.0, False), (4.9, True)])
def test_small_lettering(size_pt, found):
    """5 to 6 pt are the smallest text in one ink: printers' guides, common practice."""
    piece = lettering("lettering-1", "credits", 70, 140, size_pt)
    findings = check_sheet(replace(tide_pool(), letterings=(piece,)))
    assert [finding.code for finding in findings] == (["text-small"] if found else [])
    if found:
        assert findings[0].severity == "error"
        assert "4.9 pt" in findings[0].message


def test_thin_lettering():
    piece = lettering("lettering-1", "l", 70, 140, 8)
    (glyph,) = piece.glyphs
    stem = polygon_path(np.array([(70.0, 138), (70.06, 138), (70.06, 140), (70, 140)]))
    piece = replace(piece, glyphs=(replace(glyph, paths=(stem,)),))
    assert only(replace(tide_pool(), letterings=(piece,))).code == "text-thin"


@pytest.mark.parametrize(
    ("size_pt", "colour", "found"), [(8.0, SHELL, True), (8.0, INK, False), (9.0, SHELL, False)]
)
def test_small_lettering_in_several_inks(size_pt, colour, found):
    piece = lettering("lettering-1", "credits", 70, 140, size_pt, colour)
    assert codes(replace(tide_pool(), letterings=(piece,))) == (["text-inks-many"] if found else [])


def test_thin_lines_in_several_inks():
    sheet = tide_pool()
    shell = sheet.stickers[3]
    lines = tuple(replace(item, colour=SHELL) for item in shell.lines)
    assert codes(with_sticker(sheet, 3, lines=lines, line_width_mm=0.45)) == ["line-inks-many"]
    assert codes(with_sticker(sheet, 3, lines=lines, line_width_mm=0.6)) == []


@pytest.mark.parametrize(
    ("cmyk", "severity"),
    [((65, 65, 70, 100), None), ((66, 65, 70, 100), "warning"), ((75, 75, 80, 100), "warning"),
     ((75, 75, 81, 100), "error")],
)  # fmt: skip
def test_total_ink(cmyk, severity):
    """300 to 330 % at most on coated paper: printers' guides, common practice."""
    heavy = PressColour("deep", cmyk, "#101010", "given", 0.0)
    sheet = tide_pool()
    body = sheet.stickers[0].fills[0]
    sheet = with_sticker(sheet, 0, fills=(replace(body, colour=heavy), *sheet.stickers[0].fills[1:]))
    found = check_sheet(replace(sheet, colours=(*sheet.colours, heavy)))
    assert [(finding.severity, finding.code) for finding in found] == (
        [(severity, "ink-heavy")] if severity else []
    )
    if severity:
        assert found[0].where_mm == pytest.approx(tuple(body.shape.paths[0].segments[0, 0]), abs=1e-3)


@pytest.mark.parametrize(("cmy", "found"), [((70, 70, 60), False), ((70, 70, 61), True)])
def test_black_over_a_dark_colour(cmy, found):
    """Black lines overprint: 200 % of other inks under them are 300 % with it."""
    dark = PressColour("reef", (*cmy, 0), "#404448", "given", 0.0)
    sheet = tide_pool()
    body = sheet.stickers[3].fills[0]
    on_sticker = with_sticker(sheet, 3, fills=(replace(body, colour=dark),))
    assert codes(on_sticker) == (["ink-heavy-overprint"] if found else [])
    # Half of every outline lies on the background, and both letterings do.
    findings = check_sheet(replace(sheet, background=dark))
    assert [finding.code for finding in findings] == (["ink-heavy-overprint"] if found else [])
    assert not found or 'lines of "crab" and 5 more print over the colour "reef"' in findings[0].message
    knocked_out = tuple(replace(item, colour=WHITE) for item in sheet.stickers[3].lines)
    assert codes(with_sticker(on_sticker, 3, lines=knocked_out)) == []


@pytest.mark.parametrize(("screen", "found"), [("#f2dec0", True), ("#e8d4b6", True), ("#a08050", False)])
def test_lettering_that_sinks_into_the_background(screen, found):
    tint = PressColour("tint", (0, 0, 0, 20), screen, "given", 0.0)
    piece = lettering("lettering-1", "shore", 76, 140, 12, tint)
    sheet = replace(tide_pool(), letterings=(piece,))
    assert codes(sheet) == (["text-faint"] if found else [])
    on_crab = lettering("lettering-1", "crab", 55.5, 53, 9, tint)
    assert codes(replace(sheet, letterings=(on_crab,))) == [], (
        "what lies under it there is not the background"
    )


def test_contrast_of_black_and_white():
    # 21 to 1 by definition (Web Content Accessibility Guidelines 2); #777777 on white is 4.48 (from memory).
    assert contrast_ratio("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast_ratio("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


def test_colours_that_the_press_cannot_print():
    vivid = PressColour("vivid", (80, 0, 100, 0), "#00c040", "profile", 17.3)
    near = replace(vivid, name="near", shift=2.0)
    finding = only(replace(tide_pool(), colours=(*tide_pool().colours, vivid, near)))
    assert (finding.severity, finding.code) == ("warning", "colour-shifts")
    assert '"vivid"' in finding.message
    assert "17" in finding.message


def test_a_grey_in_black_ink_alone_gets_no_advice():
    """Dark grey lines in RGB print in one ink and so come out lighter: that is the rule's doing."""
    grey = Palette({}, Press()).of("#222222", one_ink=True)
    shell = tide_pool().stickers[3]
    lines = tuple(replace(item, colour=grey) for item in shell.lines)
    sheet = with_sticker(tide_pool(), 3, lines=lines)
    assert codes(replace(sheet, colours=(*sheet.colours, grey))) == []


def test_colours_without_a_profile_are_named_together():
    rough = [PressColour(name, (10, 0, 0, 0), "#e6ffff", "approximate") for name in ("mist", "spray")]
    finding = only(replace(tide_pool(), colours=(*tide_pool().colours, *rough)))
    assert (finding.severity, finding.code) == ("note", "colours-approximate")
    assert '"mist", "spray"' in finding.message


@pytest.mark.parametrize(("px_per_mm", "found"), [(None, False), (150 / 25.4, False), (149 / 25.4, True)])
def test_coarse_sketches(px_per_mm, found):
    sheet = with_sticker(tide_pool(), 2, sketch_px_per_mm=px_per_mm)
    assert codes(sheet) == (["sketch-coarse"] if found else [])


def test_nodes_of_the_art():
    sheet = tide_pool()
    count = max(item.node_count for item in sheet.stickers)
    assert check_sheet(sheet, PreflightSettings(most_nodes=count)) == ()
    found = check_sheet(sheet, PreflightSettings(most_nodes=count - 1))
    assert [finding.code for finding in found] == ["nodes-many"]
    assert str(count) in found[0].message


# All together ---------------------------------------------------------------------------------------------


def test_errors_come_first_then_warnings_then_notes():
    ranks = {"error": 0, "warning": 1, "note": 2}
    severities = [ranks[finding.severity] for finding in check_sheet(spoilt())]
    assert severities == sorted(severities)
    assert set(severities) == {0, 1, 2}


def test_every_finding_is_one_sentence_with_its_mend():
    for finding in check_sheet(spoilt()):
        assert re.fullmatch(r"[^\n]+; [^\n]+\.", finding.message), finding.message
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*", finding.code)


def test_what_the_sheet_already_carries_is_kept_once():
    carried = Finding("warning", "scale-unknown", None, "The scale of a sketch is a guess; give its width.")
    sheet = replace(tide_pool(), findings=(carried, carried))
    assert check_sheet(sheet) == (carried,)


def test_a_check_that_fails_says_so_and_the_others_go_on():
    def check_of_the_tides(survey):
        yield Finding("note", "tide-high", None, "The tide is high; wait.")
        raise ZeroDivisionError("no\nwater")

    findings = check_sheet(replace(tide_pool(), stickers=()), checks=(check_of_the_tides, *CHECKS))
    assert [finding.code for finding in findings] == ["sheet-empty", "check-failed", "tide-high"]
    assert '"of the tides" could not be made (ZeroDivisionError: no water)' in findings[1].message


def test_hostile_names_stay_on_one_line():
    sheet = with_sticker(spoilt(), 1, name="line\nbreak\x00 " + "x" * 300)
    for finding in check_sheet(sheet):
        assert "\n" not in finding.message
        assert len(finding.message) < 400


def test_the_same_findings_twice():
    assert check_sheet(spoilt()) == check_sheet(spoilt())


loops = st.lists(st.tuples(st.floats(-50, 200), st.floats(-50, 200)), min_size=1, max_size=6).map(
    lambda points: polygon_path(np.array(points))
)


@settings(max_examples=80, deadline=None)
@given(
    cut=loops, fill=loops, line=loops, gap=st.floats(0, 20), bleed=st.floats(0, 10), safe=st.floats(0, 100)
)
def test_never_raises_whatever_the_shapes(cut, fill, line, gap, bleed, safe):
    """Crossing, flat, tiny and empty-looking loops: the answer is findings, and none of a failed check."""
    sheet = tide_pool()
    changed = replace(
        sheet.stickers[0],
        fills=(coloured("fill", "area", [fill], SHELL),),
        lines=(coloured("line", "line", [line], INK),),
        cut=replace(sheet.stickers[0].cut, path=cut),
    )
    sheet = replace(
        sheet,
        stickers=(changed, *sheet.stickers[1:]),
        gap_mm=gap,
        page=replace(sheet.page, bleed_mm=bleed, safe_mm=safe),
    )
    assert "check-failed" not in codes(sheet)


def test_shapes_shrunk_to_a_point_do_not_bring_the_process_down():
    """GEOS 3.14 crashes when it indexes such a ring for distances."""
    point = polygon_path(np.array([(50.0, 70.0)]))
    item = disc("disc", 50, 70, 5.5, 2.5)
    dots = replace(item, fills=(coloured("dot", "area", [point], SHELL),))
    assert codes(sheet_of(dots)) == []
    found = codes(sheet_of(replace(item, cut=replace(item.cut, path=point)), item))
    assert {"art-outside-cut", "cuts-cross", "cut-crosses-itself"} <= set(found)
    assert "check-failed" not in found


def test_the_shortest_way_agrees_with_shapely():
    rng = np.random.default_rng(7)
    for _ in range(20):
        one, other = (shapely.LineString(rng.uniform(0, 10, (12, 2)) + shift) for shift in (0, (12, 3)))
        assert shortest_way(one, other).length == pytest.approx(shapely.distance(one, other), abs=1e-12)


def test_the_checks_are_all_different_and_documented():
    assert len(set(CHECKS)) == len(CHECKS)
    assert all(check.__doc__ for check in CHECKS)

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers_cut import art, blob, regular, star
from limner.errors import GeometryError
from limner.geometry.cubics import evaluate, flatten, polygon_path, signed_area
from limner.sheet.cut import cut_line
from limner.sheet.cut.cut_line import make_cut, measure_cut, move_cut, node_limit
from limner.sheet.cut.offset import blade_outline, join_parts
from limner.sheet.settings import CutSettings

SLIT = np.array([[0, 0], [30, 0], [30, 20], [15.6, 20], [15.6, 3], [14.4, 3], [14.4, 20], [0, 20]], float)
FORMS = [("outline",), ("circle",), ("ellipse",), ("rectangle",), ("outline", "circle")]
ARTS = {
    "star": (star(),),
    "blob": (blob(1, 15),),
    "wild": (blob(4, 15, 0.8, 12),),
    "slit": (SLIT,),
    "two parts": (star(), blob(2, 6) + np.array([30, 5])),
    "ring": (regular(90, 12), regular(90, 10)[::-1]),
}


def polygon_of(path):
    return shapely.Polygon(flatten(path, 0.002))


def drawn(rings):
    return shapely.union_all([shapely.Polygon(ring) for ring in rings])


def check_promises(cut, rings, wanted):
    """Everything the module promises, measured by shapely on the finished curve."""
    line, outside = cut.line, polygon_of(cut.line.path)
    region = drawn(rings)
    assert line.path.closed
    assert outside.is_valid
    assert outside.contains(region)
    nearest = outside.exterior.distance(region)
    assert nearest >= wanted.distance_mm
    assert line.min_distance_mm == pytest.approx(nearest, abs=0.01)
    points = shapely.points(shapely.get_coordinates(outside.exterior.segmentize(0.05)))
    filled = shapely.union_all([shapely.Polygon(part.exterior) for part in shapely.get_parts(region)])
    assert line.max_distance_mm == pytest.approx(shapely.distance(points, filled).max(), abs=0.06)
    assert line.length_mm == pytest.approx(outside.exterior.length, rel=1e-4)
    assert signed_area(line.path) > 0


@pytest.mark.parametrize("name", ARTS)
@pytest.mark.parametrize(
    "forms", [("outline",), ("circle",), ("ellipse",), ("rectangle",), ("outline", "circle")]
)
def test_every_form_keeps_its_promises(name, forms):
    wanted = CutSettings(forms=forms)
    check_promises(make_cut(art(*ARTS[name]), wanted), ARTS[name], wanted)


@pytest.mark.parametrize("name", ["star", "blob", "wild", "slit", "ring"])
def test_an_outline_stays_near_and_needs_few_nodes(name):
    cut = make_cut(art(*ARTS[name]), CutSettings())
    assert cut.line.path.node_count <= node_limit(cut.line.length_mm)
    # Farther than asked only where an inner corner is rounded.
    assert cut.line.max_distance_mm < 2.5 + 1.0
    assert cut.necks == ()


def test_a_circle_is_four_cubics_of_the_smallest_radius():
    cut = make_cut(art(regular(3, 10)), CutSettings(distance_mm=2, forms=("circle",)))
    # The smallest circle around an equilateral triangle is the one through its corners.
    assert cut.line.path.node_count == 4
    # Four cubics with the classical arm: largest error 2.725e-4 of the radius (Goldapp, 1991).
    radii = np.linalg.norm(flatten(cut.line.path, 0.001), axis=1)
    assert radii.min() >= 12
    # Farther out by what the flattened art may hide.
    assert radii.max() <= (12 + 0.01) * (1 + 2.8e-4)
    assert cut.line.length_mm == pytest.approx(2 * np.pi * 12, rel=1e-3)


@pytest.mark.parametrize(
    ("corners", "distance", "area", "perimeter"),
    [
        # Steiner's formula for convex shapes: A + P d + pi d^2 and P + 2 pi d (table of check values).
        ([[0, 0], [40, 0], [40, 30], [0, 30]], 2.5, 1569.63495, 155.70796),
        ([[0, 0], [4, 0], [0, 3]], 2.0, 42.56637, 12 + 4 * np.pi),
    ],
)
def test_an_offset_has_the_area_of_steiners_formula(corners, distance, area, perimeter):
    outline, necks = blade_outline(shapely.Polygon(corners), distance, 1.0, 3.0)
    assert outline.area == pytest.approx(area, rel=1e-3)
    assert outline.length == pytest.approx(perimeter, rel=1e-3)
    assert necks == ()
    cut = make_cut(art(np.array(corners, float)), CutSettings(distance_mm=distance))
    # Never nearer, and farther by no more than the widest of the bands that are tried first.
    assert area <= polygon_of(cut.line.path).area <= area + 0.1 * perimeter


def test_a_regular_polygon_has_the_area_of_steiners_formula():
    for sides in (3, 7, 64):
        shape = shapely.Polygon(regular(sides, 15))
        outline, _ = blade_outline(shape, 2.5, 1.0, 3.0)
        steiner = shape.area + shape.length * 2.5 + np.pi * 2.5**2
        assert outline.area == pytest.approx(steiner, rel=1e-3)


def test_a_slit_narrower_than_the_blade_can_turn_is_bridged():
    cut = make_cut(art(SLIT), CutSettings(distance_mm=1.0, smallest_radius_mm=1.0))
    assert polygon_of(cut.line.path).contains(shapely.Point(15, 18))


def test_holes_are_filled():
    cut = make_cut(art(regular(90, 12), regular(90, 8)), CutSettings())
    assert polygon_of(cut.line.path).contains(shapely.Point(0, 0))


def test_parts_that_lie_apart_are_joined_by_the_smallest_neck():
    one, other = shapely.box(0, 0, 10, 10), shapely.box(25, 0, 35, 10)
    rings = [np.array(part.exterior.coords)[:-1] for part in (one, other)]
    cut = make_cut(art(*rings), CutSettings(neck_mm=3.0))
    assert len(cut.necks) == 1
    # 15 mm between the parts, 2.5 mm around each.
    assert cut.necks[0].length_mm == pytest.approx(10, abs=0.3)
    assert cut.necks[0].at[0] == pytest.approx(17.5, abs=0.1)
    across = shapely.LineString([(17.5, -20), (17.5, 30)]).intersection(polygon_of(cut.line.path))
    assert across.length == pytest.approx(3.0, abs=0.15)


def test_three_parts_in_a_row_need_two_necks_between_neighbours():
    region = shapely.union_all([shapely.box(x, 0, x + 4, 4) for x in (0, 10, 30)])
    joined, necks = join_parts(region, 2.0)
    assert joined.geom_type == "Polygon"
    assert sorted(neck.length_mm for neck in necks) == pytest.approx([6, 16])


def test_lines_count_as_art():
    body, whisker = regular(60, 8), np.array([[8, -0.2], [20, -0.2], [20, 0.2], [8, 0.2]])
    cut = make_cut(art(body, whisker), CutSettings())
    assert shapely.bounds(polygon_of(cut.line.path))[2] == pytest.approx(22.5, abs=0.1)


def test_nothing_drawn_is_an_error():
    with pytest.raises(GeometryError, match="nothing to cut around"):
        make_cut([], CutSettings())


def test_a_cut_through_the_art_is_measured_as_negative():
    region = shapely.box(-10, -10, 10, 10)
    line = measure_cut(polygon_path(regular(40, 12)), region, CutSettings())
    # The corners of the square stick out of the circle by sqrt(200) - 12.
    assert line.min_distance_mm == pytest.approx(12 - np.sqrt(200), abs=0.1)


def test_moving_keeps_every_measure():
    line = make_cut(art(star()), CutSettings()).line
    c, s = np.cos(0.7), np.sin(0.7)
    moved = move_cut(line, np.array([[c, -s, 50], [s, c, -20]]))
    assert polygon_of(moved.path).area == pytest.approx(polygon_of(line.path).area, rel=1e-6)
    assert (moved.length_mm, moved.min_distance_mm) == (line.length_mm, line.min_distance_mm)


def test_the_same_art_gives_the_same_bytes():
    first, second = (make_cut(art(blob(9)), CutSettings()).line.path.segments for _ in range(2))
    assert first.tobytes() == second.tobytes()


def test_a_fit_that_breaks_the_promise_is_not_used(monkeypatch):
    """A fit that is off by a tenth of a millimetre at one place, as long as its band is wide."""

    def wobbly(ring, band):
        path = fit_ring(ring, band)
        if band.inward_mm < 0.03:
            return path
        segments = path.segments.copy()
        inward = -evaluate(segments[:1], [0.5])[0, 0]
        segments[0, 1:3] += 0.14 * inward / np.linalg.norm(inward)
        return type(path)(segments, path.straight, path.smooth, closed=True)

    fit_ring = cut_line.fit_ring
    monkeypatch.setattr(cut_line, "fit_ring", wobbly)
    wanted = CutSettings()
    rings = (blob(1, 15),)
    cut = make_cut(art(*rings), wanted)
    check_promises(cut, rings, wanted)
    assert cut.line.path.smooth.all()


def test_where_nothing_can_be_fitted_the_cut_line_is_a_polygon_that_keeps_the_distance(monkeypatch):
    monkeypatch.setattr(cut_line, "fit_ring", lambda ring, band: None)
    rings = (blob(1, 15),)
    cut = make_cut(art(*rings), CutSettings())
    check_promises(cut, rings, CutSettings())
    assert cut.line.path.straight.all()


@settings(max_examples=12, deadline=None)
@given(
    st.integers(0, 10_000),
    st.floats(0.5, 5.0),
    st.floats(0.3, 2.5),
    st.sampled_from([("outline",), ("ellipse",), ("rectangle",), ("circle", "rectangle")]),
)
def test_promises_hold_for_any_art(seed, distance, radius, forms):
    rings = (blob(seed, 10, 0.7, 10),)
    ring = shapely.make_valid(shapely.Polygon(rings[0]))
    if ring.geom_type != "Polygon":
        return
    wanted = CutSettings(distance_mm=distance, forms=forms, smallest_radius_mm=radius)
    check_promises(make_cut(art(*rings), wanted), rings, wanted)


def test_a_laid_cut_passes_preflights_own_look_at_its_corners():
    # Rounded waves give many shallow inner corners, where a fit may bend tighter than the radius.
    angle = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    waves = 16 + 2.2 * np.sin(9 * angle) + 0.8 * np.sin(23 * angle)
    points = np.stack([waves * np.cos(angle), waves * np.sin(angle)], axis=1)
    wanted = CutSettings(distance_mm=2.0)
    cut = polygon_of(make_cut(art(points), wanted).line.path)
    # Preflight's own measure: closing by the radius less 0.05 mm fills nothing 0.02 mm deep.
    closed = cut.buffer(0.95, 32).buffer(-0.95, 32)
    assert closed.difference(cut).buffer(-0.01).is_empty

"""Vector art of the author's own: what is read, to what precision, and what is refused by name and line."""

import math
from pathlib import Path

import numpy as np
import pytest
import resvg_py
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from helpers_sheet import ellipse
from limner.art import read_art
from limner.art.outlines import even_odd_paths
from limner.errors import InputError
from limner.geometry.cubics import bounds, flatten, polygon_path, reverse, signed_area
from limner.model.drawing import Drawing
from limner.model.geometry import CubicPath
from limner.output import drawing_svg
from limner.pipeline.sheet.worker import fit_outline

# CSS Values 3: a pixel is a 96th of an inch.
PX = 25.4 / 96


def svg(body: str, root: str = 'width="100mm" height="100mm" viewBox="0 0 100 100"') -> str:
    spaces = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    return f"<svg {spaces} {root}>\n{body}</svg>"


@pytest.fixture
def art(tmp_path: Path):
    def read(body: str, *rules: object, root: str | None = None, **options: object) -> Drawing:
        path = tmp_path / "kelp.svg"
        path.write_text(svg(body) if root is None else svg(body, root))
        return read_art(path, fit_outline, *rules, **options)

    return read


def box_of(shape) -> list[float]:
    boxes = np.array([bounds(path) for path in shape.paths])
    return [*boxes[:, :2].min(axis=0), *boxes[:, 2:].max(axis=0)]


def area_of(shape) -> float:
    return abs(sum(signed_area(path) for path in shape.paths))


@pytest.mark.parametrize(
    ("element", "box", "area"),
    [
        ('<rect x="10" y="20" width="30" height="15"/>', (10, 20, 40, 35), 450.0),
        ('<rect x="10" y="20" width="30" height="15" rx="5"/>', (10, 20, 40, 35), 450 - 100 + 25 * math.pi),
        ('<circle cx="50" cy="50" r="20"/>', (30, 30, 70, 70), 400 * math.pi),
        ('<ellipse cx="50" cy="50" rx="30" ry="10"/>', (20, 40, 80, 60), 300 * math.pi),
        ('<polygon points="0,0 40,0 40,30"/>', (0, 0, 40, 30), 600.0),
        ('<polyline points="0,0 40,0 40,30"/>', (0, 0, 40, 30), 600.0),
        ('<path d="M10 10h20v20h-20z"/>', (10, 10, 30, 30), 400.0),
        # A quadratic over a chord of 60: area two thirds of 60 times its height of 20 (Archimedes).
        ('<path d="M10 50Q40 10 70 50Z"/>', (10, 30, 70, 50), 800.0),
        ('<path d="M30 50A20 20 0 0 1 70 50Z"/>', (30, 30, 70, 50), 200 * math.pi),
    ],
)
def test_basic_shapes_have_their_box_and_area(art, element: str, box: tuple[float, ...], area: float) -> None:
    (shape,) = art(element).fills
    assert box_of(shape) == pytest.approx(box, abs=0.01)
    # Arcs by cubics are off by 2.7e-4 of their radius at most (Goldapp 1991).
    assert area_of(shape) == pytest.approx(area, rel=1e-3)
    assert (shape.fill, shape.role, shape.error_mm) == ("#000000", "area", 0.0)


@pytest.mark.parametrize(
    ("transform", "box"),
    [
        ("translate(5,7)", (5, 7, 15, 27)),
        ("translate(5)", (5, 0, 15, 20)),
        ("scale(2)", (0, 0, 20, 40)),
        ("scale(-1 2)", (-10, 0, 0, 40)),
        ("rotate(90)", (-20, 0, 0, 10)),
        ("rotate(90 10 10)", (0, 0, 20, 10)),
        ("matrix(0 1 1 0 3 4)", (3, 4, 23, 14)),
        ("skewX(45)", (0, 0, 30, 20)),
        ("translate(10 10) scale(2) translate(1 0)", (12, 10, 32, 50)),
    ],
)
def test_transforms(art, transform: str, box: tuple[float, ...]) -> None:
    (shape,) = art(f'<g transform="{transform}"><g><rect width="10" height="20"/></g></g>').fills
    assert box_of(shape) == pytest.approx(box, abs=1e-9)


def test_the_page_is_measured_in_its_own_units(art) -> None:
    square = '<rect width="10" height="10"/>'
    for root, side in (
        ('width="50mm" height="50mm" viewBox="0 0 100 100"', 5.0),
        ('width="2in" height="2in" viewBox="0 0 100 100"', 5.08),
        ('width="200" height="100" viewBox="0 0 200 100"', 10 * PX),
        ('viewBox="0 0 200 100"', 10 * PX),
        ('width="100%" height="100%" viewBox="0 0 200 100"', 10 * PX),
        ("", 10 * PX),
    ):
        (shape,) = art(square, root=root).fills
        assert box_of(shape)[2] == pytest.approx(side, rel=1e-7)
    (moved,) = art(square, root='width="100mm" height="100mm" viewBox="-20 -10 100 100"').fills
    assert box_of(moved)[:2] == pytest.approx((20, 10))


def test_use_symbols_and_what_is_only_defined(art) -> None:
    drawing = art(
        '<defs><rect id="a" width="10" height="10"/><linearGradient id="g"/></defs><symbol id="s">'
        '<circle r="2"/></symbol><use href="#a" x="5"/><use xlink:href="#a" transform="translate(50 0)"/>'
        '<use href="#s" x="30" y="30"/>'
    )
    assert [box_of(shape)[:2] for shape in drawing.fills] == [
        [5, 0],
        [50, 0],
        pytest.approx([28, 28], abs=0.01),
    ]
    assert [shape.name for shape in drawing.fills] == ["a", "a-2", "shape-3"]


def test_styles_and_colours(art) -> None:
    drawing = art(
        "<style>/* reef */ .s, #c { fill: #123456 } circle { fill: lime }</style>"
        '<g fill="tomato" color="navy"><rect width="9" height="9"/><rect width="9" height="9" class="s t"/>'
        '<circle r="3"/><circle id="c" r="3"/><rect width="9" height="9" style="fill:rgb(1,2,3)"/>'
        '<rect width="9" height="9" fill="currentColor"/>'
        '<rect width="9" height="9" fill="hsl(120,100%,50%)"/>'
        '<rect width="9" height="9" fill="none"/><rect width="9" height="9" display="none"/>'
        '<rect width="9" height="9" visibility="hidden"/></g>'
    )
    # CSS Color 4: tomato is #ff6347, lime #00ff00, navy #000080.
    assert [shape.fill for shape in drawing.fills] == [
        "#ff6347", "#123456", "#00ff00", "#123456", "#010203", "#000080", "#00ff00",
    ]  # fmt: skip


def test_strokes_are_outlined(art) -> None:
    (line,) = art('<line x1="10" y1="20" x2="50" y2="20" stroke="#224422" stroke-width="4"/>').fills
    assert (line.role, line.fill) == ("line", "#224422")
    assert box_of(line) == pytest.approx((10, 18, 50, 22), abs=0.02)
    for cap, area in (("butt", 160.0), ("square", 176.0), ("round", 160 + 4 * math.pi)):
        d = f'<path d="M10 20H50" fill="none" stroke="red" stroke-width="4" stroke-linecap="{cap}"/>'
        (line,) = art(d).fills
        assert area_of(line) == pytest.approx(area, rel=2e-3), cap
    # Steiner's formula: a ring about a circle of radius 20 is 2 pi 20 times its width.
    fill, ring = art(
        '<circle id="eye" cx="50" cy="50" r="20" fill="#fff" stroke="#000" stroke-width="3"/>'
    ).fills
    assert (fill.name, ring.name) == ("eye", "eye-stroke")
    assert area_of(ring) == pytest.approx(2 * math.pi * 20 * 3, rel=2e-3)
    assert len(ring.paths) == 2
    assert sum(path.node_count for path in ring.paths) <= 8, "a circle takes four cubics"


def test_a_stroke_is_turned_and_stretched_with_its_path(art) -> None:
    d = '<path d="M0 0H10" stroke="red" stroke-width="2" fill="none"/>'
    (line,) = art(f'<g transform="translate(50 50) scale(1 3)">{d}</g>').fills
    assert box_of(line) == pytest.approx((50, 47, 60, 53), abs=0.02)


def test_holes_by_either_rule(art) -> None:
    outer, inner = "M0 0H30V30H0Z", "M10 10V20H20V10Z"
    same_way = "M10 10H20V20H10Z"
    for d, rule, area in (
        (outer + inner, "nonzero", 800.0),
        (outer + same_way, "evenodd", 800.0),
        (outer + same_way, "nonzero", 900.0),
    ):
        (shape,) = art(f'<path d="{d}" fill-rule="{rule}"/>').fills
        region = shapely.Polygon()
        for path in shape.paths:
            region = region.symmetric_difference(shapely.Polygon(flatten(path, 0.001)))
        assert region.area == pytest.approx(area, rel=1e-3), (d, rule)


def test_what_overlaps_is_united_where_the_non_zero_rule_fills_it(art) -> None:
    """A pentagram drawn in one go: its middle is filled, unlike by the even-odd rule."""
    angles = -np.pi / 2 + np.arange(5) * 4 * np.pi / 5
    points = " ".join(f"{50 + 40 * np.cos(a):.6f},{50 + 40 * np.sin(a):.6f}" for a in angles)
    (shape,) = art(f'<polygon points="{points}"/>').fills
    # Radius of the inner pentagon by that of the outer one: the square of the golden section's inverse.
    inner = 40 * ((math.sqrt(5) - 1) / 2) ** 2
    assert area_of(shape) == pytest.approx(5 * 40 * inner * math.sin(math.pi / 5), rel=2e-3)
    (by_even_odd,) = art(f'<polygon points="{points}" fill-rule="evenodd"/>').fills
    assert by_even_odd.paths[0].node_count == 5


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.integers(5, 95), st.integers(5, 95)), min_size=3, max_size=7, unique=True))
def test_any_polygon_covers_what_a_renderer_fills(points) -> None:
    """resvg by the non-zero rule beside the region by the even-odd rule, but for pixels at the edge."""
    path = polygon_path(np.array(points, dtype=float))
    made = even_odd_paths([path], 0.02, fit_outline)
    data = "".join(f"M{' '.join(f'{x:.4f},{y:.4f}' for x, y in flatten(one, 0.002))}Z" for one in made)
    given_data = "M" + " ".join(f"{x},{y}" for x, y in points) + "Z"
    pictures = [_raster(given_data, "nonzero"), _raster(data, "evenodd")]
    assert np.abs(pictures[0] - pictures[1]).mean() < 0.004


def _raster(data: str, rule: str) -> np.ndarray:
    import io

    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="100" height="100"><rect width="100" height="100" '
        f'fill="white"/><path d="{data}" fill-rule="{rule}"/></svg>'
    )
    return (
        np.asarray(Image.open(io.BytesIO(bytes(resvg_py.svg_to_bytes(svg_string=text)))).convert("L")) / 255
    )


@pytest.mark.parametrize(
    ("body", "line", "said"),
    [
        ('<text x="3">Reef</text>', 2, '<text> "Reef" is text: turn it into paths'),
        ('<g>\n<image href="a.png"/></g>', 3, "<image> is a picture"),
        ('<rect id="r" width="9" height="9" fill="url(#g)"/>', 2, '<rect> "r" has a gradient or a pattern'),
        ('<g filter="url(#f)"><rect width="9" height="9"/></g>', 2, "<g> has a filter"),
        ('<rect width="9" height="9" clip-path="url(#c)"/>', 2, "is clipped"),
        ('<rect width="9" height="9" mask="url(#c)"/>', 2, "is masked"),
        ('<rect width="9" height="9" opacity="0.5"/>', 2, "is see-through"),
        ('<rect width="9" height="9" style="fill-opacity:50%"/>', 2, "is see-through"),
        ('<rect width="9" height="9" fill="rgba(1,2,3,0.5)"/>', 2, "is see-through"),
        ('<rect width="9" height="9" fill="#12345680"/>', 2, "is see-through"),
        ('<rect width="9" height="9" fill="reef"/>', 2, "has a fill that is no colour (reef)"),
        ('<rect width="9" height="9" stroke="red" stroke-dasharray="2 1"/>', 2, "is dashed"),
        ('<rect width="9" height="9" transform="turn(3)"/>', 2, "has a transform that is none"),
        ('<rect width="wide" height="9"/>', 2, "has width = wide, which is no length"),
        ('<path d="M0 0L9"/>', 2, "path data that are damaged"),
        ('<path d="M0 0L1e999 3Z"/>', 2, "path data that are damaged"),
        ('<use href="#none"/>', 2, "uses something that is not in this file"),
        ('<use href="other.svg#a"/>', 2, "uses something that is not in this file"),
        ('<g id="a"><use href="#a"/></g>', 2, "groups deep"),
        ('<svg><rect width="9" height="9"/></svg>', 2, "is a drawing inside the drawing"),
        ("<foreignObject/>", 2, "is no SVG"),
        ("<style>g > rect {fill:red}</style>", 2, "has the selector g > rect"),
        ("<mesh/>", 2, "is nothing that a sticker can be cut from"),
    ],
)
def test_what_is_no_shape_of_one_colour_is_refused_by_name_and_line(
    art, body: str, line: int, said: str
) -> None:
    with pytest.raises(InputError) as caught:
        art(body)
    message = str(caught.value)
    assert message.startswith(f"kelp.svg, line {line}: ")
    assert said in message
    assert message.endswith(".")


# Each group uses the one before it forty times: a hundred million squares in the end.
LEVELS = "".join(
    f"<g id='{b}'>" + f"<use href='#{a}'/>" * 40 + "</g>" for a, b in zip("acdef", "cdefb", strict=True)
)
NEST = f"<use href='#b'/><defs><g id='a'><rect width='1' height='1'/></g>{LEVELS}</defs>"
BOMB = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10 if n else "reef"}">' for n in range(9))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is no SVG"),
        ("a drawing", "is no SVG"),
        ("<svg", "not a whole SVG file"),
        (svg("<g>"), "not a whole SVG file"),
        ("<html/>", "is XML, but no SVG"),
        (svg(""), "shows no shape"),
        (svg('<rect width="0" height="9"/>'), "shows no shape"),
        (f"<!DOCTYPE svg [{BOMB}]>" + svg("<title>&e8;</title>"), "declares entities"),
        ('<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///x">]>' + svg("<title>&x;</title>"), "declares entities"),
        (svg(NEST), "more than a sticker can hold"),
    ],
)  # fmt: skip
def test_files_that_are_no_art(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "kelp.svg"
    path.write_text(text)
    with pytest.raises(InputError, match=said):
        read_art(path, fit_outline)


def test_a_file_that_is_too_large_or_missing(tmp_path: Path) -> None:
    (tmp_path / "large.svg").write_text(svg("<!-- " + "x" * 10_100_000 + " -->"))
    for name, said in (("large.svg", "larger than 10 MB"), ("none.svg", "is not there")):
        with pytest.raises(InputError, match=said):
            read_art(tmp_path / name, fit_outline)


def test_ordinary_document_types_and_foreign_elements_are_no_matter(tmp_path: Path) -> None:
    path = tmp_path / "kelp.svg"
    doctype = (
        '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">'
    )
    body = '<x:view xmlns:x="urn:other"><x:grid/></x:view><!-- reef --><rect width="9" height="9"/>'
    path.write_text(f"<?xml version='1.0'?>{doctype}{svg(body)}")
    assert len(read_art(path, fit_outline).fills) == 1


def test_rules_by_the_id_of_a_shape_or_a_group(art) -> None:
    body = (
        '<g id="leaves"><rect id="a" width="9" height="9" stroke="red"/>'
        '<rect id="b" width="9" height="9"/></g>'
        '<rect id="c" width="9" height="9"/>'
    )
    rules = [(shape.name, shape.rule) for shape in art(body, ["b", "leaves"]).fills]
    assert rules == [("a", 1), ("a-stroke", None), ("b", 0), ("c", None)]
    assert [shape.name for shape in art(body, ["a"], [True]).fills] == ["b", "c"]
    with pytest.raises(InputError, match=r'no shape with the id "kelp"; it has: a, b, c, leaves'):
        art(body, ["kelp"])


def circle(x: float, y: float, r: float) -> CubicPath:
    return ellipse(x, y, r, r)


def test_limners_own_drawing_comes_back_as_it_went_out(tmp_path: Path) -> None:
    """The same bytes, names, layers, colours and holes, straight and curved segments."""
    from limner.model.drawing import Shape

    fills = (
        Shape("base", "silhouette", (circle(40, 40, 30.1234),), "#ffffff", 0.02),
        Shape("shell", "area", (circle(40, 40, 28), reverse(circle(40, 38, 7.77))), "#f4b39d", 0.02, 9.0),
        Shape("hook", "area", (polygon_path(np.array([(1.2345, 2), (9, 2.001), (3, 8)])),), "#b9cf95", 0.01),
    )
    lines = (
        Shape("ink-1", "line", (circle(40, 40, 30.4), reverse(circle(40, 40, 29.8))), "#000000", 0.02),
        Shape("ink-2", "solid", (circle(40, 30, 2),), "#000000", 0.02),
    )
    written = drawing_svg(Drawing(80.0, 77.125, fills, lines, 0.6), "crab.jpg")
    path = tmp_path / "crab.svg"
    path.write_bytes(written)
    read = read_art(path, fit_outline)
    assert drawing_svg(read, "crab.jpg") == written
    assert [shape.role for shape in read.lines] == ["line", "line"]
    # Twice the area by the outlines: the line of 0.6 mm and the dot, a mean of both.
    assert 0.6 < read.line_width_mm < 0.8

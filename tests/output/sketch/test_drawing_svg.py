"""The SVG of a drawing: the contract, validity, and what is not allowed to happen to names."""

from xml.etree import ElementTree

import lxml.etree
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from svgwrite.validator2 import get_validator

from helpers_drawing import CONTRACT_PATH, SVG, node_count, square, svg_paths, tide_pool_drawing
from limner.model.drawing import Shape
from limner.output.markup import path_data, unique_ids, xml_id
from limner.output.sketch.svg import drawing_svg


def test_page_is_in_millimetres() -> None:
    root = ElementTree.fromstring(drawing_svg(tide_pool_drawing(width_mm=105.0, height_mm=148.5), "crab.jpg"))
    assert (root.get("width"), root.get("height")) == ("105mm", "148.5mm")
    assert root.get("viewBox") == "0 0 105 148.5"


def test_layers_stand_bottom_to_top_with_titles() -> None:
    root = ElementTree.fromstring(drawing_svg(tide_pool_drawing(), "crab.jpg"))
    groups = root.findall(f"{SVG}g")
    assert [group.get("id") for group in groups] == ["fills", "lines"]
    assert all((group.findtext(f"{SVG}title") or "") for group in groups)


def test_paths_keep_the_contract() -> None:
    drawing = tide_pool_drawing()
    data = drawing_svg(drawing, "crab.jpg")
    paths = svg_paths(data, "fills") + svg_paths(data, "lines")
    assert [path.get("id") for path in paths] == [shape.name for shape in drawing.shapes]
    for path, shape in zip(paths, drawing.shapes, strict=True):
        assert CONTRACT_PATH.fullmatch(path.get("d", ""))
        assert set(path.keys()) == {"d", "fill", "fill-rule", "id"}
        assert path.get("fill") == shape.fill
        assert path.get("fill-rule") == "evenodd"
        assert node_count(path.get("d", "")) == shape.node_count


def test_file_is_valid_svg_1_1() -> None:
    # svgwrite's validator for SVG 1.1 (full profile), an independent table of elements and attributes.
    validator = get_validator("full", debug=True)
    root = ElementTree.fromstring(drawing_svg(tide_pool_drawing(), "crab.jpg"))
    checked = 0
    for element in root.iter():
        name = element.tag.removeprefix(SVG)
        validator.check_all_svg_attribute_values(name, dict(element.items()))
        for child in element:
            validator.check_valid_children(name, child.tag.removeprefix(SVG))
        checked += 1
    assert checked == 10


def test_the_same_drawing_gives_the_same_bytes() -> None:
    assert drawing_svg(tide_pool_drawing(), "a") == drawing_svg(tide_pool_drawing(), "a")


def test_coordinates_are_rounded_to_a_micrometre() -> None:
    moved = square(1 / 3, -1e-9, 2.0)
    assert path_data([moved]).startswith("M0.333 0L2.333 0L")


@given(st.text(st.characters(codec=None), max_size=40))
def test_no_title_makes_the_file_ill_formed(title: str) -> None:
    assert ElementTree.fromstring(drawing_svg(tide_pool_drawing(), title)).find(f"{SVG}title") is not None


@given(st.text(min_size=1, max_size=40))
def test_an_id_is_an_xml_name(name: str) -> None:
    # libxml2 follows the fifth edition of XML 1.0: it takes the identifier as the name of an element.
    assert lxml.etree.fromstring(f"<{xml_id(name)}/>").tag == xml_id(name)


@given(st.text(min_size=1, max_size=40))
def test_no_name_can_inject_markup(name: str) -> None:
    drawing = tide_pool_drawing(lines=(Shape(name, "line", (square(1, 1, 3),), "#1d1d1b", 0.0),))
    data = drawing_svg(drawing, "crab.jpg")
    (path,) = svg_paths(data, "lines")
    assert path.get("id") == xml_id(name) or path.get("id", "").startswith(xml_id(name) + "-")


def test_a_shape_named_like_a_layer_gets_an_id_of_its_own() -> None:
    assert unique_ids(["fills", "lines", "fills", "eye", "eye"]) == [
        "fills",
        "lines",
        "fills-2",
        "eye",
        "eye-2",
    ]


@pytest.mark.parametrize(
    ("name", "expected"),
    [("shell", "shell"), ("left claw", "left-claw"), ("3 eyes", "_3-eyes"), ("Krebs größer", "Krebs-größer")],
)
def test_ids_stay_readable(name: str, expected: str) -> None:
    assert xml_id(name) == expected


@given(
    st.lists(st.floats(-1e4, 1e4, allow_nan=False), min_size=6, max_size=12).filter(lambda v: len(v) % 2 == 0)
)
def test_path_data_reads_back_to_half_a_micrometre(values: list[float]) -> None:
    from limner.geometry.cubics import polygon_path

    points = np.array(values).reshape(-1, 2)
    data = path_data([polygon_path(points)])
    assert CONTRACT_PATH.fullmatch(data)
    numbers = np.array([float(n) for n in data[1:-1].replace("L", " ").split()]).reshape(-1, 2)
    np.testing.assert_allclose(numbers[:-1], points, atol=0.0005001)

"""sheet.svg keeps its contract: true size, layers in order, closed cut lines, names that stay text."""

import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers_sheet import INK, lettering, tide_pool, with_sticker
from limner.model.sheet import Sheet
from limner.output.sheet.svg import sheet_svg

SVG = "{http://www.w3.org/2000/svg}"


def parsed(sheet: Sheet) -> ElementTree.Element:
    return ElementTree.fromstring(sheet_svg(sheet))


def groups(element: ElementTree.Element) -> list[str]:
    return [child.get("id", "") for child in element.findall(f"{SVG}g")]


def test_true_size_with_the_bleed():
    # A6 is 105 x 148 mm (ISO 216); 3 mm of bleed on each side.
    root = parsed(tide_pool())
    assert (root.get("width"), root.get("height")) == ("111mm", "154mm")
    assert root.get("viewBox") == "0 0 111 154"
    background = root.find(f"{SVG}g[@id='background']/{SVG}rect")
    assert [float(background.get(key, "0")) for key in ("x", "y", "width", "height")] == [0, 0, 111, 154]
    assert background.get("fill") == "#f2dec0"


def test_layers_from_bottom_to_top():
    root = parsed(tide_pool())
    assert groups(root) == ["background", "crab", "sea-star", "anemone", "shell", "lettering", "cut"]
    for sticker in ("crab", "sea-star", "anemone", "shell"):
        assert groups(root.find(f"{SVG}g[@id='{sticker}']")) == [f"{sticker}-fills", f"{sticker}-lines"]


def test_every_layer_has_its_name_as_title():
    root = parsed(tide_pool())
    assert root.findtext(f"{SVG}title") == "tide-pool"
    assert root.find(f"{SVG}g[@id='sea-star']").findtext(f"{SVG}title") == "sea star"
    assert root.find(f"{SVG}g[@id='lettering-1']") is None, "a piece of lettering lies inside its layer"
    assert root.findtext(f".//{SVG}g[@id='lettering-1']/{SVG}title") == "Tide Pool"
    assert root.find(f"{SVG}g[@id='cut']").findtext(f"{SVG}title") == "Cutting"


def test_cut_paths_are_closed_unfilled_hairlines():
    paths = parsed(tide_pool()).findall(f"{SVG}g[@id='cut']/{SVG}path")
    assert len(paths) == 4
    for path in paths:
        assert path.get("fill") == "none"
        assert path.get("stroke") == "#ec008c"
        # 0.25 pt = 0.0882 mm, by definition of the point as 1/72 inch.
        assert float(path.get("stroke-width")) == pytest.approx(0.25 * 25.4 / 72, abs=5e-5)
        assert path.get("d").count("M") == path.get("d").count("Z") == 1


def test_art_is_closed_filled_paths_and_nothing_else():
    root = parsed(tide_pool())
    tags = {element.tag.removeprefix(SVG) for element in root.iter()}
    assert tags == {"svg", "title", "defs", "g", "rect", "path"}
    for path in root.iter(f"{SVG}path"):
        data = path.get("d")
        assert set(re.findall("[A-Za-z]", data)) <= set("MCLZ")
        assert all(piece.endswith("Z") for piece in re.findall("M[^M]*", data))
    for layer in ("crab-fills", "crab-lines"):
        for path in root.findall(f".//{SVG}g[@id='{layer}']/{SVG}path"):
            assert path.get("fill-rule") == "evenodd"
            assert path.get("stroke") is None
    for path in root.findall(f"{SVG}g[@id='lettering']//{SVG}path"):
        assert path.get("fill-rule") == "nonzero"


def test_nothing_on_bare_paper():
    root = parsed(replace(tide_pool(), background=None, stickers=(), letterings=()))
    assert groups(root) == ["background", "lettering", "cut"]
    assert list(root.iter(f"{SVG}path")) == []
    assert list(root.iter(f"{SVG}rect")) == []


def test_names_that_collide_still_give_different_ids():
    sheet = tide_pool()
    for index, name in enumerate(["cut", "crab", "crab-fills", "crab  fills"]):
        sheet = with_sticker(sheet, index, name=name)
    ids = [element.get("id") for element in parsed(sheet).iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    root = parsed(sheet)
    assert groups(root)[0] == "background"
    assert groups(root)[-2:] == ["lettering", "cut"]
    assert root.find(f"{SVG}g[@id='cut']").findall(f"{SVG}path") != []
    assert "crab-fills" in groups(root), "the sticker of that name keeps it"


# XML 1.0, fifth edition, productions 4 and 4a without the colon (https://www.w3.org/TR/xml/, from memory).
NAME_START = (
    "A-Z_a-z\u00c0-\u00d6\u00d8-\u00f6\u00f8-\u02ff\u0370-\u037d\u037f-\u1fff\u200c\u200d\u2070-\u218f"
    "\u2c00-\u2fef\u3001-\ud7ff\uf900-\ufdcf\ufdf0-\ufffd\U00010000-\U000effff"
)
NAME = re.compile(f"[{NAME_START}][{NAME_START}\\-.0-9\u00b7\u0300-\u036f\u203f-\u2040]*")


@settings(max_examples=60, deadline=None)
@given(name=st.text(), text=st.text(), separation=st.text(), title=st.text())
def test_any_names_give_well_formed_markup_with_valid_ids(name, text, separation, title):
    sheet = tide_pool()
    piece = replace(lettering("lettering-1", "Tide", 50, 20, 12), text=text)
    sheet = replace(
        with_sticker(sheet, 0, name=name),
        name=title,
        letterings=(piece,),
        separation=replace(sheet.separation, name=separation),
    )
    root = parsed(sheet)
    assert {element.tag.removeprefix(SVG) for element in root.iter()} == {
        "svg", "title", "defs", "g", "rect", "path",
    }  # fmt: skip
    ids = [element.get("id") for element in root.iter() if element.get("id") is not None]
    assert len(ids) == len(set(ids))
    assert all(NAME.fullmatch(identifier) for identifier in ids)


def test_markup_in_names_stays_text():
    sheet = replace(tide_pool(), name="<script>alert(1)</script>")
    root = parsed(with_sticker(sheet, 0, name='"/><script href="x">&amp;'))
    assert root.findtext(f"{SVG}title") == "<script>alert(1)</script>"
    assert not list(root.iter(f"{SVG}script"))


def test_control_characters_do_not_break_the_file():
    root = parsed(with_sticker(tide_pool(), 0, name="a\x00b\x1bc\ud800"))
    assert root.findall(f"{SVG}g")[1].findtext(f"{SVG}title") == "a\ufffdb\ufffdc\ufffd"


def test_the_same_bytes_twice():
    assert sheet_svg(tide_pool()) == sheet_svg(tide_pool())


def test_glyphs_are_one_path_each():
    root = parsed(replace(tide_pool(), letterings=(lettering("lettering-1", "a b", 50, 20, 12, INK),)))
    assert len(root.findall(f".//{SVG}g[@id='lettering-1']/{SVG}path")) == 2

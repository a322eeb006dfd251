"""sheet.pdf is what a printing company expects, judged by programs and libraries outside the project."""

import math
import os
import subprocess
import sys
from dataclasses import replace
from functools import cache
from io import BytesIO
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pikepdf
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers_render import (
    chromium,
    differing,
    pdfium,
    plates,
    resvg,
    run,
    tool,
    whole_pixels,
)
from helpers_sheet import SHELL, coloured, ellipse, lettering, tide_pool, with_sticker
from limner.errors import OutputError
from limner.geometry.cubics import flatten
from limner.model.colour import PressColour
from limner.model.sheet import Sheet
from limner.output.sheet.pdf import sheet_pdf
from limner.output.sheet.svg import sheet_svg

LAYERS = ["background", "crab", "crab-fills", "crab-lines", "sea-star", "sea-star-fills", "sea-star-lines",
          "anemone", "anemone-fills", "anemone-lines", "shell", "shell-fills", "shell-lines",
          "lettering", "cut"]  # fmt: skip


@cache
def pdf_bytes() -> bytes:
    return sheet_pdf(tide_pool())


@cache
def with_profile() -> Sheet:
    return replace(tide_pool(), profile=press_profile(), profile_name="Some press, coated")


def press_profile() -> bytes:
    """The head of a CMYK printer profile (fields of ICC.1, from memory): enough for the structure."""
    head = bytearray(128)
    head[12:16], head[16:20], head[20:24], head[36:40] = b"prtr", b"CMYK", b"Lab ", b"acsp"
    return bytes(head) + bytes(range(256))


def opened(data: bytes) -> pikepdf.Pdf:
    return pikepdf.open(BytesIO(data))


# Structure ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("make", [tide_pool, with_profile])
def test_qpdf_finds_no_fault(make, tmp_path):
    (tmp_path / "sheet.pdf").write_bytes(sheet_pdf(make()))
    result = run(tool("qpdf"), "--check", tmp_path / "sheet.pdf")
    assert result.returncode == 0, result.stdout + result.stderr
    assert "No syntax or stream encoding errors" in result.stdout
    assert "WARNING" not in result.stdout + result.stderr


def test_poppler_reads_the_boxes(tmp_path):
    (tmp_path / "sheet.pdf").write_bytes(pdf_bytes())
    result = run(tool("pdfinfo"), "-box", tmp_path / "sheet.pdf")
    boxes = {
        line.split(":")[0]: [float(value) for value in line.split(":")[1].split()]
        for line in result.stdout.splitlines()
        if "Box:" in line
    }
    # A6 with 3 mm of bleed is 314.646 x 436.535 pt, and 3 mm are 8.5039 pt: 1 inch = 25.4 mm = 72 pt.
    page = pytest.approx([0, 0, 314.646, 436.535], abs=0.006)
    assert boxes["MediaBox"] == page
    assert boxes["BleedBox"] == page
    assert boxes["TrimBox"] == pytest.approx([8.5039, 8.5039, 306.142, 428.031], abs=0.006)
    assert "Pages:           1" in result.stdout


def test_boxes_to_a_ten_thousandth_of_a_point():
    with opened(pdf_bytes()) as pdf:
        trim = [float(side) for side in pdf.pages[0].TrimBox]
    # A6 = 297.638 x 419.528 pt (ISO 216 and 72 pt to the inch).
    assert [trim[2] - trim[0], trim[3] - trim[1]] == pytest.approx([297.6378, 419.5276], abs=2e-4)


def test_every_layer_is_an_optional_content_group_in_the_order_of_the_svg():
    with opened(pdf_bytes()) as pdf:
        properties = pdf.Root.OCProperties
        assert [str(group.Name) for group in properties.OCGs] == LAYERS
        assert all(group.Type == pikepdf.Name.OCG for group in properties.OCGs)
        assert properties.D.BaseState == pikepdf.Name.ON
        order = [str(item.Name) if isinstance(item, pikepdf.Dictionary) else [str(i.Name) for i in item]
                 for item in properties.D.Order]  # fmt: skip
    # A layer panel lists the topmost first; the groups inside a sticker follow it in an array of their own.
    assert order[:4] == ["cut", "lettering", "shell", ["shell-lines", "shell-fills"]]
    assert order[-1] == "background"


def test_layers_wrap_what_they_hold():
    with opened(pdf_bytes()) as pdf:
        page = pdf.pages[0]
        names = {key: str(group.Name) for key, group in page.Resources.Properties.items()}
        stack, seen = [], set()
        for operands, operator in pikepdf.parse_content_stream(page):
            if str(operator) == "BDC":
                assert operands[0] == pikepdf.Name.OC
                stack.append(names[str(operands[1])])
            elif str(operator) == "EMC":
                stack.pop()
            elif str(operator) in {"f", "f*", "S"}:
                seen.add((*stack, str(operator)))
    assert stack == []
    assert ("background", "f") in seen
    assert ("crab", "crab-fills", "f*") in seen
    assert ("crab", "crab-lines", "f*") in seen
    assert ("lettering", "f") in seen
    assert ("cut", "S") in seen
    strokes = {
        layers for *layers, operator in map(list, seen) if operator == "S" for layers in [tuple(layers)]
    }
    assert strokes == {("cut",)}, "nothing but the cut lines is stroked"


def test_the_cut_layer_says_that_it_is_cutting():
    """Keys and values of ISO 19593-1, as in the machine-readable PDF model of the PDF Association."""
    with opened(pdf_bytes()) as pdf:
        marked = {
            str(group.Name): group.GTS_Metadata
            for group in pdf.Root.OCProperties.OCGs
            if "/GTS_Metadata" in group
        }
        assert list(marked) == ["cut"]
        assert marked["cut"].GTS_ProcStepsGroup == pikepdf.Name.Structural
        assert marked["cut"].GTS_ProcStepsType == pikepdf.Name.Cutting


def test_the_separation_and_its_stroke():
    with opened(pdf_bytes()) as pdf:
        resources = pdf.pages[0].Resources
        (space,) = resources.ColorSpace.values()
        assert list(space)[:3] == [pikepdf.Name.Separation, pikepdf.Name.Cutting, pikepdf.Name.DeviceCMYK]
        tint = space[3]
        assert int(tint.FunctionType) == 2
        assert [float(value) for value in tint.C0] == [0, 0, 0, 0]
        assert [float(value) for value in tint.C1] == [0, 1, 0, 0]
        content = pikepdf.parse_content_stream(pdf.pages[0])
        widths = [float(operands[0]) for operands, operator in content if str(operator) == "w"]
        assert widths == [pytest.approx(0.25)]
        operators = [str(operator) for _, operator in content]
        assert operators[-2:] == ["Q", "EMC"]
        assert operators.count("S") == 4
        over = resources.ExtGState.Over
        assert (bool(over.OP), bool(over.op), int(over.OPM)) == (True, True, 1)


def test_colours_are_process_inks_alone():
    with opened(pdf_bytes()) as pdf:
        operators = {str(operator) for _, operator in pikepdf.parse_content_stream(pdf.pages[0])}
    assert "k" in operators
    assert operators.isdisjoint({"rg", "RG", "g", "G", "K", "sc", "sh", "Do", "Tj", "TJ", "BI"})


def test_black_overprints_and_other_colours_knock_out():
    with opened(pdf_bytes()) as pdf:
        state, pairs = "", set()
        for operands, operator in pikepdf.parse_content_stream(pdf.pages[0]):
            if str(operator) == "gs":
                state = str(operands[0])
            elif str(operator) == "k":
                pairs.add((state, tuple(float(value) for value in operands)))
    assert {colour for name, colour in pairs if name == "/Over"} == {(0, 0, 0, 1)}
    assert (0, 0.55, 0.55, 0) in {colour for name, colour in pairs if name == "/Knock"}


# PDF/X-4 --------------------------------------------------------------------------------------------------


def xmp_of(pdf: pikepdf.Pdf) -> ElementTree.Element:
    return ElementTree.fromstring(pdf.Root.Metadata.read_bytes())


def test_pdf_x4_keys_with_a_profile():
    """ISO 15930-7 as described in secondary sources; see the table of check values."""
    with opened(sheet_pdf(with_profile())) as pdf:
        (intent,) = pdf.Root.OutputIntents
        assert intent.S == pikepdf.Name.GTS_PDFX
        assert str(intent.OutputConditionIdentifier) == "Some press, coated"
        assert int(intent.DestOutputProfile.N) == 4
        assert intent.DestOutputProfile.read_bytes() == press_profile()
        info = pdf.trailer.Info
        assert info.Trapped == pikepdf.Name("/False")
        assert str(info.Title) == "tide-pool"
        assert str(info.CreationDate) == str(info.ModDate) == "D:20000101000000Z"
        assert len(pdf.trailer.ID) == 2
        assert "/Encrypt" not in pdf.trailer
        assert pdf.pdf_version == "1.6"
        names = {element.tag: element.text for element in xmp_of(pdf).iter()}
        assert names["{http://www.npes.org/pdfx/ns/id/}GTS_PDFXVersion"] == "PDF/X-4"
        assert names["{http://ns.adobe.com/pdf/1.3/}Trapped"] == "False"
        assert names["{http://ns.adobe.com/xap/1.0/}CreateDate"] == "2000-01-01T00:00:00Z"
        # An independent reader of the same packet.
        with pdf.open_metadata() as metadata:
            assert metadata["dc:title"] == "tide-pool"


def test_no_claim_to_pdf_x_without_a_profile():
    with opened(pdf_bytes()) as pdf:
        assert "/OutputIntents" not in pdf.Root
        assert "/GTS_PDFXVersion" not in pdf.trailer.Info
        assert b"PDFXVersion" not in pdf.Root.Metadata.read_bytes()
        assert xmp_of(pdf) is not None


@pytest.mark.parametrize(
    ("field", "value"), [(slice(12, 16), b"mntr"), (slice(16, 20), b"RGB "), (slice(36, 40), b"none")]
)
def test_a_profile_of_another_kind_is_refused(field, value):
    profile = bytearray(press_profile())
    profile[field] = value
    with pytest.raises(OutputError, match="not one of a CMYK press"):
        sheet_pdf(replace(with_profile(), profile=bytes(profile)))


def test_a_truncated_profile_is_refused():
    with pytest.raises(OutputError, match="not one of a CMYK press"):
        sheet_pdf(replace(with_profile(), profile=b"short"))


def test_the_date_can_be_set(monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1780000000")
    with opened(sheet_pdf(tide_pool())) as pdf:
        # 1780000000 s after 1970-01-01T00:00:00Z (Python's datetime).
        assert str(pdf.trailer.Info.CreationDate) == "D:20260528202640Z"
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "soon")
    assert sheet_pdf(tide_pool()) == pdf_bytes()


# Names ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["All", "none", "Black", " cyan ", "", "a\0b"])
def test_reserved_separations_are_refused(name):
    sheet = tide_pool()
    with pytest.raises(OutputError, match="Cutting"):
        sheet_pdf(replace(sheet, separation=replace(sheet.separation, name=name)))


@settings(max_examples=40, deadline=None)
@given(
    name=st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), min_size=1),
    title=st.text(),
    sticker=st.text(),
)
def test_any_names_give_a_sound_file_that_says_them(name, title, sticker):
    sheet = with_sticker(small_sheet(), 0, name=sticker)
    sheet = replace(sheet, name=title, separation=replace(sheet.separation, name=name + "."))
    with opened(sheet_pdf(sheet)) as pdf:
        assert pdf.check_pdf_syntax() == []
        (space,) = pdf.pages[0].Resources.ColorSpace.values()
        assert str(space[1]) == f"/{name}."
        assert xmp_of(pdf) is not None
        assert pdf.Root.OCProperties.OCGs[-1].Name == "cut"


@cache
def small_sheet() -> Sheet:
    return replace(tide_pool(), stickers=tide_pool().stickers[3:], letterings=())


# Same in, same out ----------------------------------------------------------------------------------------


def test_the_same_bytes_under_another_hash_seed():
    code = (
        "import sys, hashlib; from helpers_sheet import tide_pool;"
        "from limner.output.sheet.pdf import sheet_pdf;"
        "from limner.output.sheet.svg import sheet_svg;"
        "print(hashlib.sha256(sheet_pdf(tide_pool()) + sheet_svg(tide_pool())).hexdigest())"
    )
    folder = str(Path(__file__).parents[2])
    digests = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": folder},
            capture_output=True, text=True, check=True,
        ).stdout
        for seed in ("1", "2")
    }  # fmt: skip
    assert len(digests) == 1


def test_another_sheet_gets_another_identity():
    with opened(pdf_bytes()) as one, opened(sheet_pdf(small_sheet())) as other:
        assert one.trailer.ID[0] != other.trailer.ID[0]


# Separations ----------------------------------------------------------------------------------------------

DPI = 600
PX_MM = 25.4 / DPI


@pytest.fixture(scope="module")
def whole_plates(tmp_path_factory):
    return plates(pdf_bytes(), tmp_path_factory.mktemp("plates"), dpi=DPI)


def without_layer(data: bytes, name: str) -> bytes:
    """The same file with the content of one layer taken out."""
    with opened(data) as pdf:
        page = pdf.pages[0]
        key = next(key for key, group in page.Resources.Properties.items() if str(group.Name) == name)
        kept, depth = [], 0
        for operands, operator in pikepdf.parse_content_stream(page):
            if str(operator) == "BDC" and (depth or str(operands[1]) == key):
                depth += 1
            if not depth:
                kept.append((operands, operator))
            if str(operator) == "EMC" and depth:
                depth -= 1
        page.Contents = pdf.make_stream(pikepdf.unparse_content_stream(kept))
        file = BytesIO()
        pdf.save(file)
        return file.getvalue()


def test_there_are_four_process_plates_and_the_cut_plate(whole_plates):
    assert set(whole_plates) == {"Cyan", "Magenta", "Yellow", "Black", "Cutting"}


def test_ink_on_the_cut_plate_lies_only_along_the_cut_lines(whole_plates):
    rows, columns = np.nonzero(whole_plates["Cutting"] < 255)
    points = shapely.points((columns + 0.5) * PX_MM, (rows + 0.5) * PX_MM)
    sheet = tide_pool()
    lines = shapely.MultiLineString(
        [shapely.LinearRing(flatten(sticker.cut.path, 0.001)) for sticker in sheet.stickers]
    )
    shapely.prepare(lines)
    # Beyond half the stroke: half the diagonal of a pixel, since each one that the stroke touches is inked,
    # and less than a pixel by which this rasteriser flattens curves and rounds the page's height.
    reach = sheet.hairline_mm / 2 + PX_MM * (math.sqrt(2) / 2 + 0.8)
    assert shapely.dwithin(points, lines, reach).all()
    along = lines.length / PX_MM
    assert len(points) > along, "the whole of every line is inked"


def test_every_stretch_of_the_cut_lines_is_inked(whole_plates):
    inked = whole_plates["Cutting"] < 255
    for sticker in tide_pool().stickers:
        points = flatten(sticker.cut.path, 0.0005) / PX_MM
        columns, rows = points.astype(int).T
        assert inked[rows, columns].all()


def test_process_plates_do_not_know_of_the_cut(whole_plates, tmp_path):
    without = plates(without_layer(pdf_bytes(), "cut"), tmp_path, dpi=DPI)
    assert "Cutting" not in without or (without["Cutting"] == 255).all()
    for name in ("Cyan", "Magenta", "Yellow", "Black"):
        np.testing.assert_array_equal(whole_plates[name], without[name])
        assert (whole_plates[name] < 255).any()


def test_black_lettering_is_on_the_black_plate_alone(whole_plates, tmp_path):
    without = plates(without_layer(pdf_bytes(), "lettering"), tmp_path, dpi=DPI)
    for name in ("Cyan", "Magenta", "Yellow"):
        np.testing.assert_array_equal(whole_plates[name], without[name])
    letters = (whole_plates["Black"] == 0) & (without["Black"] == 255)
    boxes = sum((p.box[2] - p.box[0]) * (p.box[3] - p.box[1]) for p in tide_pool().letterings)
    # Lettering covers a third to two thirds of its box, by eye: enough to see that it is there.
    assert 0.2 < letters.sum() * PX_MM**2 / boxes < 0.8


def test_black_lines_leave_the_colours_under_them_whole(whole_plates, tmp_path):
    """They overprint, so that a shifted black plate shows no paper beside a line."""
    without = plates(without_layer(pdf_bytes(), "crab-lines"), tmp_path, dpi=DPI)
    for name in ("Cyan", "Magenta", "Yellow"):
        np.testing.assert_array_equal(whole_plates[name], without[name])
    assert (whole_plates["Black"] != without["Black"]).any()


def test_press_values_arrive_on_the_plates(whole_plates):
    # Within the crab's body, clear of its lines: 55 % magenta and yellow, no cyan, no black.
    row, column = int(51.5 / PX_MM), int(60 / PX_MM)
    ink = {name: 1 - int(plate[row, column]) / 255 for name, plate in whole_plates.items()}
    assert ink == pytest.approx(
        {"Cyan": 0, "Magenta": 0.55, "Yellow": 0.55, "Black": 0, "Cutting": 0}, abs=0.003
    )


# Pictures -------------------------------------------------------------------------------------------------

PX_PER_MM = 10


def seen_by_pdfium(sheet: Sheet) -> Sheet:
    """The same sheet with each screen colour the one that pdfium shows for its press value.

    How CMYK looks on a screen is each viewer's choice; only so can pictures of PDF and SVG be compared.
    """
    known: dict[PressColour, PressColour] = {}

    def screen(colour: PressColour) -> PressColour:
        if colour not in known:
            patch = replace(sheet, background=colour, stickers=(), letterings=())
            r, g, b = pdfium(sheet_pdf(patch), sheet.page.width_mm, 1)[20, 20]
            known[colour] = replace(colour, screen=f"#{r:02x}{g:02x}{b:02x}")
        return known[colour]

    def shapes(items):
        return tuple(replace(item, colour=screen(item.colour)) for item in items)

    return replace(
        sheet,
        background=screen(sheet.background),
        separation=screen(sheet.separation),
        stickers=tuple(replace(s, fills=shapes(s.fills), lines=shapes(s.lines)) for s in sheet.stickers),
        letterings=tuple(replace(piece, colour=screen(piece.colour)) for piece in sheet.letterings),
    )


@cache
def comparable() -> tuple[Sheet, int, int]:
    sheet = seen_by_pdfium(tide_pool())
    return (
        sheet,
        whole_pixels(sheet.page.width_mm, PX_PER_MM),
        whole_pixels(sheet.page.height_mm, PX_PER_MM),
    )


def test_pdf_and_svg_look_the_same():
    sheet, _, _ = comparable()
    one = pdfium(sheet_pdf(sheet), sheet.page.width_mm, PX_PER_MM)
    other = resvg(sheet_svg(sheet), PX_PER_MM)
    assert differing(one, other) < 0.01
    # The bare figure would also pass on a sheet that is mostly background: so, of the pixels that hold art.
    background = np.array([int(sheet.background.screen[i : i + 2], 16) for i in (1, 3, 5)])
    painted = (np.abs(other.astype(int) - background) > 48).any(axis=2).mean()
    assert differing(one, other) < 0.03 * painted
    assert differing(one[::-1], other) > 0.05, "the comparison would notice a page upside down"


def test_chromium_and_resvg_agree_on_the_svg(tmp_path):
    sheet, width, height = comparable()
    (tmp_path / "sheet.svg").write_bytes(sheet_svg(sheet))
    page = tmp_path / "page.html"
    page.write_text(
        '<body style="margin:0"><img src="sheet.svg" style="display:block;'
        f'width:{width}px;height:{height}px">'
    )
    one = chromium(page, width, height, tmp_path)[:height, :width]
    other = resvg(sheet_svg(sheet), PX_PER_MM)
    assert differing(one, other) < 0.01


def test_even_odd_fills_leave_holes_open():
    """Two outlines in the same direction are a ring by the even-odd rule, a disc by the non-zero one."""
    ring = coloured("ring", "area", [ellipse(55.5, 77, 30, 30), ellipse(55.5, 77, 20, 20)], SHELL)
    sheet = tide_pool()
    sticker = replace(sheet.stickers[0], fills=(ring,), lines=())
    sheet = seen_by_pdfium(replace(sheet, stickers=(sticker,), letterings=()))
    picture = pdfium(sheet_pdf(sheet), sheet.page.width_mm, 4)
    background = [int(sheet.background.screen[i : i + 2], 16) for i in (1, 3, 5)]
    assert picture[77 * 4, 222].tolist() == background
    assert picture[77 * 4, 222 + 25 * 4].tolist() != background


def test_lettering_without_outlines_is_left_out():
    piece = lettering("lettering-1", "a", 50, 20, 12)
    empty = replace(piece, glyphs=(replace(piece.glyphs[0], paths=()),))
    with opened(sheet_pdf(replace(tide_pool(), letterings=(empty,)))) as pdf:
        assert pdf.check_pdf_syntax() == []


def test_bare_paper():
    sheet = replace(tide_pool(), background=None, stickers=(), letterings=(), colours=())
    with opened(sheet_pdf(sheet)) as pdf:
        operators = [str(operator) for _, operator in pikepdf.parse_content_stream(pdf.pages[0])]
    assert set(operators).isdisjoint({"f", "f*", "S"})

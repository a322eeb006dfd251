"""A sheet of twelve with a press profile: one picture by poppler, Ghostscript, pdfium and mupdf.

How process inks look on a screen is each program's own choice, so that pictures are compared by what is one
colour in them: where the sheet has one flat colour, each program shows one, whichever it is, and another one
where the sheet has a clearly different one. mupdf is asked as a program of its own (`mutool`), not as a
library, whose licence (AGPL) would reach into the tests.
"""

from dataclasses import replace
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from helpers_render import Pixels, pdfium, resvg, run, tool, whole_pixels
from helpers_sheet import shifted, tide_pool
from limner.model.sheet import Page, Sheet
from limner.output.sheet.pdf import sheet_pdf
from limner.output.sheet.svg import sheet_svg

PX_PER_MM = 6
PROFILE = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")

# Pixels so near to another colour are left out: each program smooths edges in its own way, and draws
# hairlines wider.
EDGE_PX = 3
# A colour is one within the first of 255, another one beyond the second; colours of the sheet differ clearly
# beyond the last.
SAME, OTHER, CLEARLY = 12, 16, 64


@cache
def twelve() -> Sheet:
    """The tide pool three times side by side."""
    one = tide_pool()
    width = one.page.trim_width_mm
    stickers = tuple(
        replace(shifted(sticker, k * width, 0.0), name=f"{sticker.name}-{k + 1}")
        for k in range(3)
        for sticker in one.stickers
    )
    page = Page(3 * width, one.page.trim_height_mm, one.page.bleed_mm, one.page.safe_mm)
    return replace(one, page=page, stickers=stickers, profile=PROFILE.read_bytes(), profile_name="A press")


@cache
def flat_colours() -> tuple[Pixels, np.ndarray]:
    """Screen colours, and for each pixel the number of the one all around it, -1 where several meet."""
    picture = resvg(sheet_svg(twelve()), PX_PER_MM)
    colours = [item.colour.screen for s in twelve().stickers for item in s.shapes]
    colours += [colour.screen for colour in (twelve().background, twelve().letterings[0].colour) if colour]
    palette = np.array([[int(c[i : i + 2], 16) for i in (1, 3, 5)] for c in dict.fromkeys(colours)])
    labels = np.full(picture.shape[:2], -1)
    for number, colour in enumerate(palette):
        mask = (picture == colour).all(axis=2).astype(np.uint8)
        labels[cv2.erode(mask, np.ones((2 * EDGE_PX + 1,) * 2), borderValue=0) > 0] = number
    return palette.astype(np.uint8), labels


def poppler(pdf: Path, size: tuple[int, int]) -> Pixels:
    width, height = size
    run(
        tool("pdftoppm"), "-png", "-singlefile", "-scale-to-x", str(width), "-scale-to-y", str(height),
        pdf, pdf.with_name("poppler"),
    )  # fmt: skip
    return opened(pdf.with_name("poppler.png"))


def ghostscript(pdf: Path, size: tuple[int, int]) -> Pixels:
    width, height = size
    target = pdf.with_name("ghostscript.png")
    run(
        tool("gs"), "-q", "-dSAFER", "-dNOPAUSE", "-dBATCH", "-sDEVICE=png16m", "-dTextAlphaBits=4",
        "-dGraphicsAlphaBits=4", f"-r{PX_PER_MM * 25.4}", f"-g{width}x{height}",
        f"-sOutputFile={target}", pdf,
    )  # fmt: skip
    return opened(target)


def mupdf(pdf: Path, size: tuple[int, int]) -> Pixels:
    width, height = size
    target = pdf.with_name("mupdf.png")
    run(tool("mutool"), "draw", "-q", "-o", target, "-w", str(width), "-h", str(height), "-f", pdf, "1")
    return opened(target)


def by_pdfium(pdf: Path, size: tuple[int, int]) -> Pixels:
    return pdfium(pdf.read_bytes(), size[0] / PX_PER_MM, PX_PER_MM)


def opened(path: Path) -> Pixels:
    with Image.open(path) as picture:
        return np.asarray(picture.convert("RGB"))


def is_same_picture(picture: Pixels) -> bool:
    """Whether a picture shows one colour wherever the sheet has one, and different ones where it has."""
    palette, labels = flat_colours()
    shown = []
    for number in range(len(palette)):
        pixels = picture[labels == number].astype(int)
        typical = np.median(pixels, axis=0)
        if (np.abs(pixels - typical).max(axis=1) > SAME).mean() > 0.002:
            return False
        shown.append(typical)
    apart = np.abs(palette[:, None].astype(int) - palette).max(axis=2) > CLEARLY
    seen = np.abs(np.array(shown)[:, None] - np.array(shown)).max(axis=2) > OTHER
    return bool(seen[apart].all())


@pytest.mark.skipif(not PROFILE.exists(), reason="Ghostscript's CMYK profile is not installed")
@pytest.mark.parametrize("drawn_by", [poppler, ghostscript, by_pdfium, mupdf])
def test_every_program_shows_the_same_picture(drawn_by, tmp_path) -> None:
    page = twelve().page
    size = whole_pixels(page.width_mm, PX_PER_MM), whole_pixels(page.height_mm, PX_PER_MM)
    pdf = tmp_path / "sheet.pdf"
    pdf.write_bytes(sheet_pdf(twelve()))
    picture = drawn_by(pdf, size)
    palette, labels = flat_colours()
    # All of the sheet's colours are compared, over most of the page.
    assert set(range(len(palette))) <= set(labels.ravel().tolist())
    assert (labels >= 0).mean() > 0.8
    assert picture.shape[:2] == labels.shape
    assert is_same_picture(picture)
    assert not is_same_picture(picture[:, ::-1])
    assert not is_same_picture(np.roll(picture, PX_PER_MM, axis=0))

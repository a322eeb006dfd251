"""Pictures and separations of sheets, made by programs and libraries that are not the project's own."""

import math
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
import resvg_py
from numpy.typing import NDArray
from PIL import Image

Pixels = NDArray[np.uint8]

# Nothing that a headless picture needs, and nothing that asks the network.
_CHROMIUM_FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
    "--force-device-scale-factor=1",
)


def tool(*names: str) -> str:
    """Path of an installed program; skips the test where there is none."""
    for name in names:
        found = shutil.which(name)
        if found:
            return found
    pytest.skip(f"{' or '.join(names)} is not installed")


def run(*command: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run([str(part) for part in command], capture_output=True, text=True, timeout=120)


def pdfium(pdf: bytes, width_mm: float, px_per_mm: int) -> Pixels:
    """The first page as RGB; its size must be a whole number of pixels."""
    document = pypdfium2.PdfDocument(pdf)
    page = document[0]
    # A touch smaller, since pdfium rounds sizes up and points are rounded numbers.
    scale = width_mm * px_per_mm / page.get_width() * (1 - 1e-6)
    pixels = np.asarray(page.render(scale=scale).to_pil().convert("RGB"))
    page.close()
    document.close()
    return pixels


def resvg(svg: bytes, px_per_mm: float) -> Pixels:
    """An SVG that states its size in millimetres, as RGB on white."""
    png = resvg_py.svg_to_bytes(
        svg_string=svg.decode(), dpi=px_per_mm * 25.4, background="#ffffff", skip_system_fonts=True
    )
    return decoded(bytes(png))


def decoded(png: bytes) -> Pixels:
    from io import BytesIO

    with Image.open(BytesIO(png)) as picture:
        return np.asarray(picture.convert("RGB"))


def chromium(page: Path, width_px: int, height_px: int, folder: Path) -> Pixels:
    """A screenshot of a local page as RGB."""
    program = tool("chromium", "chromium-browser")
    shot = folder / "shot.png"
    result = run(
        program,
        *_CHROMIUM_FLAGS,
        f"--user-data-dir={folder / 'profile'}",
        f"--window-size={width_px},{height_px}",
        f"--screenshot={shot}",
        page.as_uri(),
    )
    assert shot.exists(), result.stderr
    return decoded(shot.read_bytes())


def plates(pdf: bytes, folder: Path, *, dpi: int = 600) -> dict[str, Pixels]:
    """Ghostscript's separations by name, 255 where there is no ink."""
    program = tool("gs")
    folder.mkdir(parents=True, exist_ok=True)
    source = folder / "sheet.pdf"
    source.write_bytes(pdf)
    result = run(
        program, "-q", "-dSAFER", "-dNOPAUSE", "-dBATCH", "-sDEVICE=tiffsep", f"-r{dpi}",
        f"-sOutputFile={folder / 'plate.tif'}", source,
    )  # fmt: skip
    assert result.returncode == 0, result.stdout + result.stderr
    found = {}
    for path in folder.glob("plate(*).tif"):
        with Image.open(path) as picture:
            found[path.stem.removeprefix("plate(").removesuffix(")")] = np.asarray(picture)
    return found


def differing(one: Pixels, other: Pixels, tolerance: int = 48) -> float:
    """Share of pixels of which some channel differs by more than `tolerance` of 255.

    Antialiased edges differ between renderers by design; a fifth of the range is beyond that.
    """
    assert one.shape == other.shape
    return float((np.abs(one.astype(int) - other.astype(int)).max(axis=2) > tolerance).mean())


def whole_pixels(length_mm: float, px_per_mm: int) -> int:
    pixels = length_mm * px_per_mm
    assert math.isclose(pixels, round(pixels), abs_tol=1e-6)
    return round(pixels)

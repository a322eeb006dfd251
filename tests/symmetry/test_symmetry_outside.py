"""Axes and completed figures on drawings from outside the project.

The drawings are openmoji line art (CC BY-SA 4.0), rendered at test time and never kept. Those taken for
symmetric are tested to be so first; the asymmetric ones were chosen by eye as having no axis.

Bounds: 0.5 degrees and 0.5 % of the drawing's size for halves, 0.7 for whole ones made uneven; F1 within 4 px
at 1600 px of 0.98. They are the project's own: public challenges accept 10 degrees (the project's table of
check values).
"""

import math

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from helpers_figures import share_of
from limner.capture.page import flatten_page
from limner.capture.settings import CaptureSettings
from limner.errors import GeometryError
from limner.ink.extract import extract_ink
from limner.ink.settings import InkSettings
from limner.model.geometry import Axis
from limner.model.raster import Photo, ScaledInk
from limner.regions.centrelines.build import build_graph
from limner.symmetry.find.axis import find_axis
from limner.symmetry.frame import frame_of
from limner.symmetry.ink.complete import complete_half
from limner.symmetry.ink.erase import erase_guide
from sketchmaker.degrade import degrade_raster
from sketchmaker.outside import openmoji_line_raster
from sketchmaker.rasters import Tilt, tilt_raster, warp_smooth

Image = NDArray[np.float32]

pytestmark = pytest.mark.slow

PX = 1600
STROKE = 0.7  # of 72 units: a pencil's line
SYMMETRIC = tuple(
    """
    1F31E 1F341 1F359 1F35A 1F363 1F365 1F377 1F381 1F384 1F392 1F3A7 1F3AA 1F3C8 1F3DB 1F43B 1F43C
    1F455 1F457 1F47F 1F48C 1F4A7 1F506 1F600 1F602 1F607 1F608 1F610 1F61F 1F626 1F62D 1F632 1F636
    1F63A 1F642 1F644 1F6A7 1F6CD 1F6E1 1F913 1F921 1F929 1F950 1F95A 1F97D 1F98A 1F98B 1F9E5 1FAB2
    1FAD9 260E 26C4 26EA 2744
""".split()  # noqa: SIM905 (as a list it is a page of quotes)
)
ASYMMETRIC = tuple(
    """
    1F303 1F331 1F33F 1F376 1F37A 1F3B5 1F3C2 1F3C3 1F3D4 1F402 1F409 1F40A 1F40D 1F411 1F426 1F429
    1F42A 1F433 1F483 1F4AA 1F6EB 1F90F 1F97E 1F98D 1F99B 1F9A4 1F9A8 1F9CE 1F9DC 1FABF
""".split()  # noqa: SIM905 (as a list it is a page of quotes)
)

# Eight and six axes: tilted by 12 degrees, another one than the page's stands more upright.
MANY_AXES = ("1F506", "2744")


def photographed(ink: Image, seed: int) -> ScaledInk:
    """The drawing in pencil on paper, photographed and read back; 1 pixel of it is 1 mm."""
    rgb = degrade_raster(ink, seed=seed)
    page = flatten_page(Photo(rgb, None, "sketch"), CaptureSettings(paper="none"))
    found = extract_ink(page, InkSettings())
    return found.scaled_to(ink.shape[1] / found.coverage.shape[1])


def solids(ink: Image, line_width: float) -> NDArray[np.bool_]:
    """Where a disc of three line widths fits into the ink: dark places as wide are solid."""
    side = round(3 * line_width)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))
    return cv2.morphologyEx((ink >= 0.5).astype(np.uint8), cv2.MORPH_OPEN, disc) > 0


def cut(ink: Image, left: bool) -> Image:
    middle = ink.shape[1] // 2
    half = ink.copy()
    half[:, middle:] *= 0 if left else 1
    half[:, :middle] *= 1 if left else 0
    return half


def tilt_of(index: int) -> float:
    return (7 * index) % 25 - 12.0


def f1(one: NDArray[np.bool_], other: NDArray[np.bool_], reach: float) -> float:
    """Harmonic mean of the shares of each that lie within `reach` pixels of the other."""
    shares = []
    for a, b in ((one, other), (other, one)):
        away = cv2.distanceTransform((~b).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
        shares.append(float((away[a] <= reach).mean()) if a.any() else 0.0)
    return 2 * shares[0] * shares[1] / max(sum(shares), 1e-9)


def off_by(axis: Axis, angle_deg: float, tilt: Tilt, drawn: Image) -> tuple[float, float]:
    """Degrees, and per cent of the drawing's size, by which an axis misses the middle of the page."""
    rows, columns = np.nonzero(drawn > 0.5)
    size = max(np.ptp(rows), np.ptp(columns))
    middle = tilt.forward(np.array([[drawn.shape[1] / 2, drawn.shape[0] / 2]]))[0]
    angle = (axis.angle_deg - 90.0 - angle_deg + 90.0) % 180.0 - 90.0
    return abs(angle), 100.0 * abs(float(frame_of(axis).distance(middle))) / size


def test_the_symmetric_drawings_are_symmetric() -> None:
    for code in SYMMETRIC:
        drawn = openmoji_line_raster(code, 800) >= 0.5
        assert f1(drawn, drawn[:, ::-1], 2.0) >= 0.995, code


def test_halves_photographed_are_completed() -> None:
    assert len(SYMMETRIC) >= 40
    missed, unlike, agreements = [], [], []
    drawings = share_of(list(enumerate(SYMMETRIC)), 4)
    for index, code in drawings:
        drawn = openmoji_line_raster(code, PX, stroke=STROKE)
        half, tilt = tilt_raster(cut(drawn, index % 2 == 0), tilt_of(index))
        ink = photographed(half, index)
        graph = build_graph(ink)
        try:
            one = find_axis(ink, graph)
        except GeometryError:
            missed.append(f"{code} refused")
            continue
        axis = one.axis
        degrees, percent = off_by(axis, tilt_of(index), tilt, drawn)
        bare = erase_guide(ink, graph, axis, one.guide)
        whole = complete_half(bare, graph if bare is ink else build_graph(bare), axis)
        left, top = whole.offset_px
        height, width = ink.coverage.shape
        result = whole.ink.mask[top : top + height, left : left + width].astype(np.uint8)
        result = cv2.resize(result, (PX, PX), interpolation=cv2.INTER_NEAREST) > 0
        agreement = f1(result, tilt_raster(drawn, tilt_of(index))[0] >= 0.5, 4.0)
        if axis.how == "whole" or degrees > 0.5 or percent > 0.5:
            missed.append(f"{code} {axis.how} {degrees:.2f} deg {percent:.2f} %")
            continue
        agreements.append(agreement)
        if agreement < 0.98:
            unlike.append(f"{code} {axis.how} F1 {agreement:.3f}")
    count, mean = len(drawings), float(np.mean(agreements))
    found = count - len(missed)
    print(f"\nhalves: {found} of {count} axes, mean F1 {mean:.4f}, unlike {unlike}, missed {missed}")
    assert len(missed) <= math.ceil(0.05 * count), missed
    # A miss of 0.2 % shows twice in the mirrored half: 5 px at this size, where F1 allows 4.
    assert mean >= 0.99
    assert len(unlike) <= math.ceil(0.1 * count), unlike


def test_whole_ones_made_uneven() -> None:
    missed = []
    codes = share_of([pair for pair in enumerate(SYMMETRIC) if pair[1] not in MANY_AXES], 2)
    for index, code in codes:
        drawn = openmoji_line_raster(code, 512, stroke=1.0)
        uneven, _ = warp_smooth(tilt_raster(drawn, tilt_of(index))[0], seed=index, amplitude_px=0.002 * 512)
        tilt = Tilt(tilt_of(index), 256, 256)
        ink = ScaledInk(uneven, solids(uneven, 512 / 72), 512 / 72, np.eye(3), 1.0)
        try:
            axis = find_axis(ink, build_graph(ink)).axis
        except GeometryError:
            missed.append(f"{code} refused")
            continue
        degrees, percent = off_by(axis, tilt_of(index), tilt, drawn)
        if axis.how != "whole" or degrees > 0.7 or percent > 0.7:
            missed.append(f"{code} {axis.how} {degrees:.2f} deg {percent:.2f} %")
    print(f"\nuneven whole ones: {len(codes) - len(missed)} of {len(codes)} axes, missed {missed}")
    assert len(missed) <= math.ceil(0.05 * len(codes)), missed


def test_drawings_without_symmetry_are_all_refused() -> None:
    assert len(ASYMMETRIC) >= 20
    for index, code in share_of(list(enumerate(ASYMMETRIC)), 2):
        drawn, _ = tilt_raster(openmoji_line_raster(code, 600, stroke=STROKE), tilt_of(index))
        ink = photographed(drawn, index)
        with pytest.raises(GeometryError, match="No axis of symmetry can be trusted"):
            pytest.fail(f"{code}: {find_axis(ink, build_graph(ink)).axis}")


def test_the_angle_is_that_of_the_axis_itself() -> None:
    # A sanity check of the helper above, so that the bounds bound what they say.
    drawn = np.zeros((100, 100), np.float32)
    drawn[20:80, 20:80] = 1
    axis = Axis(50 + 3 * math.cos(math.radians(5)), 50 + 3 * math.sin(math.radians(5)), 95.5, 1.0, "by hand")
    degrees, percent = off_by(axis, 5.0, Tilt(5.0, 50, 50), drawn)
    assert degrees == pytest.approx(0.5)
    assert percent == pytest.approx(100 * 3 / 59, rel=0.01)

"""A page whose lines are drawn broad is worked out at fewer pixels, and comes out the same."""

import json

import cv2
import numpy as np
import pytest
import shapely

from limner.geometry.cubics import flatten
from limner.ink.scale import Finest, early_reduction, line_widths
from limner.pipeline.sketch import page as pages
from limner.pipeline.sketch.files import trace_files
from limner.pipeline.sketch.settings import TraceSettings
from limner.pipeline.sketch.trace import TraceResult, trace


def drawn(line_px: float, size: tuple[int, int] = (2400, 3000)) -> np.ndarray:
    """A leaf and two rings with lines of a given width; grey, paper bright."""
    page = np.full(size, 236, np.uint8)
    t = np.linspace(0, 2 * np.pi, 400)
    leaf = np.stack([900 + 620 * np.cos(t), 1200 + 420 * np.sin(t) * (1 + 0.35 * np.cos(3 * t))], axis=1)
    for points in (leaf, [2200, 700] + 330 * np.stack([np.cos(t), np.sin(t)], axis=1)):
        cv2.polylines(
            page, [np.round(points * 16).astype(np.int32)], True, 50, round(line_px), cv2.LINE_AA, 4
        )
    cv2.circle(page, (2200, 1700), 300, 50, round(line_px), cv2.LINE_AA)
    return np.asarray(cv2.GaussianBlur(page, (0, 0), 1.0))


@pytest.mark.parametrize(("line_px", "reduction"), [(4, 1), (8, 1), (13, 2), (19, 2)])
def test_lines_keep_six_pixels(line_px: int, reduction: int) -> None:
    page = drawn(line_px)
    small = cv2.resize(page, None, fx=0.4, fy=0.4, interpolation=cv2.INTER_AREA).astype(np.float32) / 236
    # 3000 px may come down to 1200 and no further, so that small details survive: at most 2 whole steps.
    assert early_reduction(line_widths(small).scaled(2.5), page.shape, Finest()) == reduction


@pytest.mark.parametrize(("smoothing_mm", "reduction"), [(0.2, 2), (0.14, 2), (0.1, 1), (0.02, 1)])
def test_a_finer_smoothing_keeps_more_pixels(smoothing_mm: float, reduction: int) -> None:
    page = drawn(14)
    small = cv2.resize(page, None, fx=0.4, fy=0.4, interpolation=cv2.INTER_AREA).astype(np.float32) / 236
    # At 20 px/mm a line that is smoothed by 0.14 mm, a fifth of its width, is 14 px wide; 12 px are needed
    # for 2.
    at_scale = Finest(smoothing_mm, 0.05)
    widths = line_widths(small).scaled(2.5)
    assert early_reduction(widths, page.shape, at_scale) == reduction
    # The drawn part is 2260 px wide: the same scale, when 113 mm of it are asked for.
    assert early_reduction(widths, page.shape, Finest(smoothing_mm, None, 113.0)) == reduction


def test_a_blank_page_is_not_reduced() -> None:
    blank = line_widths(np.ones((960, 1200), np.float32))
    assert early_reduction(blank, (2400, 3000), Finest()) == 1


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> tuple[TraceResult, TraceResult]:
    """Traced at fewer pixels, and at all of them."""
    path = tmp_path_factory.mktemp("pages") / "leaf.png"
    cv2.imwrite(str(path), drawn(14))
    # Smoothed like lines of their width: a finer smoothing would keep all pixels.
    settings = TraceSettings(paper="none", width_mm=150.0, smoothing_mm=0.14)
    fewer = trace(path, settings)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pages, "early_reduction", lambda *_: 1)
        return fewer, trace(path, settings)


def silhouette(result: TraceResult) -> shapely.Geometry:
    return shapely.union_all(
        [shapely.Polygon(flatten(path, 0.005)) for shape in result.drawing.fills for path in shape.paths]
    )


def test_the_shapes_are_the_same(both: tuple[TraceResult, TraceResult]) -> None:
    fewer, full = both
    assert (fewer.page.reduction, full.page.reduction) == (2.0, 1.0)
    assert len(fewer.drawing.fills) == len(full.drawing.fills)
    ours, theirs = silhouette(fewer), silhouette(full)
    # One pixel of the photograph, 0.05 mm; shapely's distance.
    assert ours.boundary.hausdorff_distance(theirs.boundary) < 0.05
    assert fewer.drawing.width_mm == full.drawing.width_mm == 150.0


def test_the_report_states_the_scale_of_the_photograph(both: tuple[TraceResult, TraceResult]) -> None:
    for result in both:
        report = json.loads(trace_files(result, "leaf.png", ["report"])["report"])
        assert report["mm_per_px"] == pytest.approx(150.0 / 3000)

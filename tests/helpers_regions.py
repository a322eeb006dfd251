"""What tests of the areas share: rasterised fills, matching against true areas, the plain chain."""

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np

from limner.capture.page import flatten_page
from limner.capture.settings import CaptureSettings
from limner.geometry.cycles import cycle_points
from limner.ink.extract import extract_ink
from limner.ink.settings import InkSettings
from limner.model.raster import Photo, ScaledInk
from limner.regions.areas.build import build_regions
from limner.regions.centrelines.build import build_graph
from sketchmaker.outside import openmoji_codes, openmoji_color_raster, openmoji_line_raster
from sketchmaker.rasters import enclosed_areas

__all__ = [
    "PAGE_MM",
    "PX",
    "STROKE",
    "Tally",
    "area_labels",
    "circle",
    "clean_ink",
    "colour_shapes",
    "drawing_codes",
    "drawn",
    "ink_of_photo",
    "plain_chain_labels",
    "regions_of",
    "score",
]

PX = 840
"""Side of the rasters."""

STROKE = 0.5
"""Width of a pencil line, in units of a 72 unit wide drawing."""

PAGE_MM = 100.0

_SURVEY_PX = 600


@dataclass
class Tally:
    """How many true areas were found, and how many fills are none."""

    true: int = 0
    found: int = 0
    fills: int = 0
    false: int = 0

    def __iadd__(self, other):
        self.true += other.true
        self.found += other.found
        self.fills += other.fills
        self.false += other.false
        return self

    @property
    def found_share(self):
        return self.found / max(self.true, 1)

    @property
    def false_share(self):
        return self.false / max(self.fills, 1)


@cache
def drawing_codes(count, stroke=STROKE, seed=1):
    """Drawings with at least four enclosed areas, drawn at random from the set.

    The set is designed for a line of width 2. With a thinner one lines that touched may come apart, and
    areas that were closed are open on nobody's purpose: such drawings, whose ink has more pieces or whose
    paper has fewer than the original's, are left out, and so are those whose files scale some strokes.
    """
    rng = np.random.default_rng(seed)
    codes = openmoji_codes()
    chosen = []
    for index in rng.permutation(len(codes)):
        raster = openmoji_line_raster(codes[index], _SURVEY_PX, stroke=stroke)
        if enclosed_areas(raster).max() < 4 or not 0.7 < _line_width(raster) * 72 / _SURVEY_PX / stroke < 1.4:
            continue
        original = openmoji_line_raster(codes[index], _SURVEY_PX)
        if _pieces(raster) == _pieces(original) and _pieces(1 - raster) >= _pieces(1 - original):
            chosen.append(codes[index])
        if len(chosen) == count:
            break
    return tuple(chosen)


def _line_width(coverage):
    """Median width of what is drawn, along its ridges."""
    depth = cv2.distanceTransform((coverage >= 0.5).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    ridge = (depth > 0) & (depth >= cv2.dilate(depth, np.ones((3, 3), np.uint8)))
    return 2 * float(np.median(depth[ridge], axis=None)) if ridge.any() else 0.0


def _pieces(coverage):
    return cv2.connectedComponents((coverage > 0.5).astype(np.uint8), connectivity=4)[0]


def clean_ink(coverage, line_width_px, mm_per_px=None, solid=None):
    """Ink map of a clean raster, slightly out of focus."""
    coverage = cv2.GaussianBlur(np.asarray(coverage, np.float32), (0, 0), 0.8)
    scale = mm_per_px or PAGE_MM / coverage.shape[1]
    solid = np.zeros(coverage.shape, bool) if solid is None else solid
    return ScaledInk(coverage, solid, line_width_px, np.eye(3), scale)


def drawn(lines, size=(400, 400), width=8.0, mm_per_px=0.1, **more):
    """Ink map of polylines, (n, 2) pixels, drawn with round ends of the given width; size is (W, H)."""
    fine = 4
    canvas = np.zeros((size[1] * fine, size[0] * fine), np.uint8)
    for line in lines:
        points = np.round((np.asarray(line, float) * fine - 0.5) * 16).astype(np.int32)
        cv2.polylines(canvas, [points], False, 255, round(width * fine), cv2.LINE_8, 4)
    coverage = cv2.resize(canvas, size, interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    return clean_ink(coverage, width, mm_per_px, **more)


def circle(x, y, radius, start_deg=0.0, end_deg=360.0):
    """Polyline of an arc."""
    turn = np.radians(np.linspace(start_deg, end_deg, max(8, int(radius * 2))))
    return np.stack([x + radius * np.cos(turn), y + radius * np.sin(turn)], axis=1)


def ink_of_photo(rgb):
    """Ink map of a degraded raster, through the capture and ink stages; scaled to a 100 mm wide page."""
    page = flatten_page(Photo(rgb, None, "test"), CaptureSettings(paper="none", width_mm=PAGE_MM))
    ink = extract_ink(page, InkSettings())
    return ink.scaled_to(PAGE_MM / ink.coverage.shape[1]), page


def regions_of(ink, settings=None, **more):
    return build_regions(ink, build_graph(ink), settings, **more)


def area_labels(regions, px):
    """Visible part of every fill on a square raster: 0 for none, i + 1 for area i."""
    labels = np.zeros((px, px), np.int32)
    for number, area in enumerate(regions.areas):
        points = cycle_points(regions.graph.edges, area.outline) * (px / regions.width_mm) - 0.5
        cv2.fillPoly(labels, [np.round(points * 256).astype(np.int32)], number + 1, cv2.LINE_8, 8)
    return labels


def plain_chain_labels(grey_ink):
    """The plain chain: connected components of what is not ink, the page around left out."""
    return enclosed_areas(grey_ink, smallest_share=0.0)


def colour_shapes(code, px, *, smallest_share=0.0015):
    """Shapes of a drawing's flat colours: connected pieces of one colour; 0 for none, 1..n the shapes."""
    rgb = openmoji_color_raster(code, px).astype(np.int64)
    packed = rgb[..., 0] << 16 | rgb[..., 1] << 8 | rgb[..., 2]
    colours, counts = np.unique(packed, return_counts=True)
    labels = np.zeros(packed.shape, np.int32)
    for colour in colours[counts >= smallest_share * packed.size]:
        if colour == 0xFF00FF:
            continue
        pieces, piece, stats, _ = cv2.connectedComponentsWithStats(
            (packed == colour).astype(np.uint8), connectivity=4
        )
        for number in range(1, pieces):
            if stats[number, cv2.CC_STAT_AREA] >= smallest_share * packed.size:
                labels[piece == number] = labels.max() + 1
    return labels


def score(labels, truth, ink, *, least=0.95, smallest_share=0.0015):
    """Match fills against true areas, ink left aside.

    A true area is found when one fill overlaps it with an intersection over union of at least `least`; a
    fill of at least the smallest size that matches none is false.
    """
    paper = ~ink
    fills, areas = labels[paper], truth[paper]
    count = int(fills.max(initial=0)) + 1
    joint = np.bincount(
        areas.astype(np.int64) * count + fills, minlength=(int(areas.max(initial=0)) + 1) * count
    )
    joint = joint.reshape(-1, count)
    fill_size, area_size = joint.sum(axis=0), joint.sum(axis=1)
    union = area_size[:, None] + fill_size[None, :] - joint
    overlap = joint[1:, 1:] / np.maximum(union[1:, 1:], 1)
    found = (overlap >= least).any(axis=1)
    big = fill_size[1:] >= smallest_share * labels.size
    matched = (overlap >= least).any(axis=0)
    return Tally(len(found), int(found.sum()), int(big.sum()), int((big & ~matched).sum())), found

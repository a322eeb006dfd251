"""Cuts of every kind, and what is measured of each at many places of the finished cubics."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely import affinity

from helpers_cut import blob, regular, star
from limner.geometry.cubics import evaluate
from limner.sheet.cut.cut_line import make_cut
from limner.sheet.settings import CutSettings

__all__ = [
    "FORMS",
    "RADIUS_KEPT",
    "SHAPES",
    "Measured",
    "kinks_deg",
    "measured",
    "slotted",
    "the_cuts",
]

PLACES = 400
RADIUS_KEPT = 0.95
"""The share of the smallest radius that every bend keeps."""


def slotted():
    """A plate with slots of several widths: a blade of 1 mm turns in the widest alone."""
    slots = [
        shapely.LineString([(x, -5), (x, 15)]).buffer(width / 2)
        for x, width in ((8, 1.0), (16, 2.2), (24, 3.4), (33, 5.0))
    ]
    return shapely.difference(shapely.box(0, 0, 40, 30), shapely.union_all(slots))


def comb():
    teeth = [shapely.box(x, 0, x + 1.2, 20) for x in range(0, 40, 5)]
    return shapely.union_all([shapely.box(0, 0, 40, 5), *teeth])


def needles():
    angles = np.arange(7) * 2 * np.pi / 7
    arms = [shapely.LineString([(0, 0), (18 * np.cos(a), 18 * np.sin(a))]).buffer(0.15) for a in angles]
    return shapely.union_all(arms)


def spiral():
    t = np.linspace(0.0, 5 * np.pi, 400)
    return shapely.LineString(np.stack([np.cos(t), np.sin(t)], axis=1) * (2 + 1.1 * t)[:, None]).buffer(0.4)


def waves():
    t = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    radius = 16 + 2.2 * np.sin(9 * t) + 0.8 * np.sin(23 * t)
    return shapely.Polygon(np.stack([radius * np.cos(t), radius * np.sin(t)], axis=1))


def eel():
    x = np.linspace(-30, 30, 200)
    return shapely.LineString(np.stack([x, 3 * np.sin(x / 5)], axis=1)).buffer(0.8)


def moon():
    return shapely.difference(shapely.Point(0, 0).buffer(15, 64), shapely.Point(6, 0).buffer(13, 64))


def eggs():
    places = [(0, 0), (5, 2), (9, -1), (14, 3), (6, 8)]
    return shapely.union_all([shapely.Point(place).buffer(1.2) for place in places])


SHAPES = {
    "star": lambda: shapely.Polygon(star()),
    "blob": lambda: shapely.Polygon(blob(1, 15)),
    "wild": lambda: shapely.Polygon(blob(4, 15, 0.8, 12)).buffer(0),
    "slotted": slotted,
    "comb": comb,
    "needles": needles,
    "spiral": spiral,
    "waves": waves,
    "eel": eel,
    "moon": moon,
    "eggs": eggs,
    "triangle": lambda: shapely.Polygon(regular(3, 14)),
    "cross": lambda: shapely.union_all([shapely.box(-15, -3, 15, 3), shapely.box(-3, -15, 3, 15)]),
    "two": lambda: shapely.union_all(
        [shapely.Polygon(star()), affinity.translate(shapely.Polygon(blob(2, 6)), 30, 5)]
    ),
}
FORMS = [
    ("circle",),
    ("ellipse",),
    ("rectangle",),
    ("outline", "circle"),
    ("outline", "ellipse"),
    ("circle", "rectangle"),
]


def bends(segments):
    """Signed curvature at many places of each cubic, ends included; positive outwards."""
    t = np.linspace(0.0, 1.0, PLACES + 1)[:, None]
    s = 1.0 - t
    a, b, c, d = (segments[:, i, None, :] for i in range(4))
    slope = 3 * (s * s * (b - a) + 2 * s * t * (c - b) + t * t * (d - c))
    bend = 6 * (s * (c - 2 * b + a) + t * (d - 2 * c + b))
    cross = slope[..., 0] * bend[..., 1] - slope[..., 1] * bend[..., 0]
    return cross / np.hypot(slope[..., 0], slope[..., 1]) ** 3


def kinks_deg(segments):
    """Turn at every node."""
    ends = segments[:, 3] - segments[:, 2]
    begins = np.roll(segments[:, 1] - segments[:, 0], -1, axis=0)
    cross = ends[:, 0] * begins[:, 1] - ends[:, 1] * begins[:, 0]
    return np.degrees(np.abs(np.arctan2(cross, (ends * begins).sum(axis=1))))


@dataclass(frozen=True)
class Measured:
    """What a cut line keeps: how much farther than asked it is away, its radii as shares of those asked."""

    spare_mm: float
    inner: float
    outer: float
    kink_deg: float
    nodes: int
    is_around: bool


def measured(region: Any, wanted: CutSettings) -> Measured:
    """The cut around a region, measured by sampling alone."""
    path = make_cut(region, wanted).line.path
    points = evaluate(path.segments, np.linspace(0.0, 1.0, PLACES, endpoint=False)).reshape(-1, 2)
    line = shapely.LinearRing(points)
    curvature = bends(path.segments)
    radius = wanted.smallest_radius_mm
    # What is grown by the distance has outer corners of that radius.
    outer = min(radius, wanted.distance_mm)
    return Measured(
        line.distance(region) - wanted.distance_mm,
        1.0 / max(-curvature.min(), 1e-9) / radius,
        1.0 / max(curvature.max(), 1e-9) / outer if outer else np.inf,
        float(kinks_deg(path.segments).max()),
        path.node_count,
        bool(shapely.Polygon(line).contains(region)),
    )


def the_cuts() -> Iterator[tuple[str, Callable[[], Any], CutSettings]]:
    """144 cuts: outlines at four distances and two more radii, and every form around ten shapes."""
    for name, shape in SHAPES.items():
        for distance in (0.5, 1.0, 2.5, 5.0):
            yield f"{name} at {distance:g} mm", shape, CutSettings(distance_mm=distance)
        for radius in (0.5, 2.0):
            yield f"{name}, radius {radius:g} mm", shape, CutSettings(smallest_radius_mm=radius)
    for forms in FORMS:
        for name in list(SHAPES)[:10]:
            yield f"{name}, {' + '.join(forms)}", SHAPES[name], CutSettings(forms=forms)

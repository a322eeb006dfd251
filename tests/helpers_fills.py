"""A promise of every tracing: no fill sticks out of the lines that bound it."""

import numpy as np
from scipy.spatial import cKDTree

from limner.geometry.cubics import flatten
from limner.geometry.cycles import cycle_points

__all__ = ["assert_fills_follow_their_lines"]

# Spacing of the points that stand for a line: what it may add to a distance is nothing beside it.
_SPACING_MM = 0.02


def assert_fills_follow_their_lines(drawing, regions, smoothing_mm):
    """Every fill lies within smoothing and half a line width of its own lines and bridges."""
    outlines = {area.name: cycle_points(regions.graph.edges, area.outline) for area in regions.areas}
    most = smoothing_mm + regions.graph.line_width_mm / 2.0
    for shape in drawing.fills:
        if shape.role == "area":
            line = cKDTree(_dense(outlines[shape.name]))
            edge = np.concatenate([flatten(path, 0.1 * smoothing_mm) for path in shape.paths])
            away = float(line.query(edge)[0].max())
            assert away <= most + _SPACING_MM, f"{shape.name} is {away:.3f} mm off its line"


def _dense(ring):
    closed = np.concatenate([ring, ring[:1]])
    steps = np.hypot(*np.diff(closed, axis=0).T)
    counts = np.maximum(np.ceil(steps / _SPACING_MM).astype(int), 1)
    source = np.repeat(np.arange(len(ring)), counts)
    share = (np.arange(len(source)) - np.repeat(np.cumsum(counts) - counts, counts)) / counts[source]
    return closed[source] + share[:, None] * np.diff(closed, axis=0)[source]

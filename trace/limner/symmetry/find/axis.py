"""The axis of a drawing, found from what is drawn - or refused.

Two readings are weighed: a figure of which only one half is drawn (`limner.symmetry.find.half`, and
`limner.symmetry.find.guide` where a guide line is drawn), and a whole one whose two sides are uneven
(`limner.symmetry.find.whole`). Neither is believed below its own score; where both are, the more upright
axis is taken, as figures stand more often than they lie.

Limits: a wrong axis spoils a drawing, a refused one costs a line in the job: the bounds lean to refusal.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from limner.errors import GeometryError
from limner.geometry.rings import inside_rings
from limner.model.arrays import Floats
from limner.model.geometry import Axis
from limner.model.raster import ScaledInk
from limner.model.regionmap import LineGraph
from limner.symmetry.find.evidence import Ends, Samples, line_ends, line_samples
from limner.symmetry.find.groups import another_half
from limner.symmetry.find.guide import Guide, guide_lines
from limner.symmetry.find.half import SURE_EVIDENCE, HalfCandidate, half_candidates
from limner.symmetry.find.whole import Candidate, whole_candidates
from limner.symmetry.frame import Line, frame_of, keep_side

__all__ = ["FoundAxis", "find_axis", "is_half_drawn", "settle_side", "slack_of"]


# How far a line may stop short of the axis, or run over it, and still be taken to end on it: so many typical
# line widths, or this share of the drawing's size; the larger of the two counts.
SLACK_WIDTHS, SLACK_SHARE = 1.3, 0.02

# Share of the ink that must find its mirror image for a whole drawing to count as symmetric, and the score
# from which the axis of a half-drawn figure is trusted (even odds, see `limner.symmetry.find.half`).
MIN_WHOLE_SCORE, MIN_HALF_SCORE = 0.75, 0.5

# Among axes that match almost alike, the one nearest to upright is meant: a square has four.
UPRIGHT_BONUS, UPRIGHT_DEG = 0.25, 25.0

# Where both readings hold and their axes stand alike, within this angle, the half is believed if its evidence
# is sure: what is left of a figure may well be symmetric in itself.
LIKE_UPRIGHT_DEG = 20.0

# A drawing counts as half drawn when no more than this share of its ink lies across the axis.
HALF_SHARE = 0.02

# A whole drawing about a guide line must match at least this well; the line itself is evidence too.
GUIDED_SCORE = 0.55

# A line on which the drawing was cut by the page's border is no axis: nearer to the border than this share of
# the page, and as parallel to it.
BORDER_SHARE, BORDER_DEG = 0.02, 3.0

# Free ends are signs of broken lines; so much do they count against a side, when all of them are on it.
BROKEN = 0.3

# A drawing smaller than so many line widths is a dot or a dash.
MIN_SIZE_WIDTHS = 10.0

BY_HAND = (
    "set it by hand: a [mirror] table with a point on it and its angle in the file that --zones names, "
    "or for a sticker in the job file: mirror = { at = [0.5, 0.5], angle = 90 }"
)

ANOTHER = (
    "Two figures are half drawn here, each about a line of its own: give each its axis, a [[mirror]] table "
    "with a box around the figure in the file that --zones names, or for a sticker in the job file: "
    "mirror = [{ box = [0, 0, 0.5, 1] }, { box = [0.5, 0, 1, 1] }]."
)


@dataclass(frozen=True, slots=True, eq=False)
class FoundAxis:
    """An axis that was found, and what is drawn along it.

    Parameters
    ----------
    axis : Axis
        The axis.
    guide : Guide or None
        The guide line by which it was found.
    """

    axis: Axis
    guide: Guide | None = None


def find_axis(
    ink: ScaledInk,
    graph: LineGraph,
    *,
    within: Sequence[Floats] | None = None,
    without: Sequence[Floats] = (),
) -> FoundAxis:
    """Find the axis of symmetry of a drawing.

    Parameters
    ----------
    ink : ScaledInk
        The ink.
    graph : LineGraph
        Its centrelines, in millimetres of the same raster.
    within : sequence of ndarray, shape (n, 2), optional
        Closed rings in millimetres: only what is drawn inside them counts (one figure of several).
    without : sequence of ndarray, shape (n, 2)
        Closed rings in millimetres: what is drawn inside them, and their own lines, do not count (parts that
        are on one side only).

    Returns
    -------
    FoundAxis
        The axis's `how` is "half" (the figure is to be completed), "guide" (the same, and a drawn guide line
        along the axis, which comes with it, is not art) or "whole"; `keep` is the drawn or the better drawn
        side.

    Raises
    ------
    GeometryError
        Nothing is drawn, or no axis can be trusted; the message says why.
    """
    samples, ends = _narrowed(line_samples(graph), line_ends(ink, graph), within)
    samples, ends = _apart_from(samples, ends, without, graph.line_width_mm)
    if len(samples.points) < 20 or samples.size < MIN_SIZE_WIDTHS * graph.line_width_mm:
        raise GeometryError(f"No axis of symmetry can be found, as hardly anything is drawn: {BY_HAND}.")
    slack = slack_of(graph, samples)
    guided = _guided(samples, ends, slack, graph.line_width_mm)
    if guided is not None:
        return guided
    wholes = [(c, c.score) for c in whole_candidates(samples)]
    whole = max(wholes, key=lambda pair: pair[1] * _upright_factor(pair[0].line.angle_deg), default=None)
    found = half_candidates(ink, samples, ends, slack)
    halves = [c for c in found if not _along_border(c, ink)]
    half = halves[0] if halves else None
    axis = _chosen(half, whole[0] if whole else None, samples)
    if axis is None:
        cut_off = bool(found) and found[0].score >= MIN_HALF_SCORE and _along_border(found[0], ink)
        raise GeometryError(_refusal(half, whole[0] if whole else None, cut_off=cut_off))
    if axis.how == "half" and another_half(ink, graph, axis, samples, ends, slack):
        raise GeometryError(ANOTHER)
    return FoundAxis(axis if axis.keep else _better_side(samples, ends, axis, slack))


def slack_of(graph: LineGraph, samples: Samples) -> float:
    """How far lines may stop short of the axis or run over it, millimetres."""
    return max(SLACK_WIDTHS * graph.line_width_mm, SLACK_SHARE * samples.size)


def is_half_drawn(graph: LineGraph, axis: Axis) -> bool:
    """Whether (nearly) all of a drawing lies on one side of an axis: then it is to be completed."""
    samples = line_samples(graph)
    distance = frame_of(axis).distance(samples.points)
    slack = slack_of(graph, samples)
    return bool(min((distance > slack).mean(), (distance < -slack).mean()) <= HALF_SHARE)


def settle_side(ink: ScaledInk, graph: LineGraph, axis: Axis) -> Axis:
    """Decide which side of an axis is kept, where that is still open: the better drawn one.

    Returns
    -------
    Axis
        The same, its `keep` set: the side with more ink and fewer broken lines.
    """
    if axis.keep is not None:
        return axis
    samples, ends = line_samples(graph), line_ends(ink, graph)
    return _better_side(samples, ends, axis, slack_of(graph, samples))


def _narrowed(samples: Samples, ends: Ends, within: Sequence[Floats] | None) -> tuple[Samples, Ends]:
    if within is None:
        return samples, ends
    return samples.only(inside_rings(samples.points, within)), ends.only(inside_rings(ends.tips, within))


def _apart_from(
    samples: Samples, ends: Ends, without: Sequence[Floats], line_width: float
) -> tuple[Samples, Ends]:
    """What is neither drawn inside the rings nor on them."""
    if not without:
        return samples, ends
    import shapely

    parts = [shapely.Polygon(ring).buffer(0.5 * line_width) for ring in without if len(ring) > 2]
    region = shapely.union_all(parts)
    clear, free = (~shapely.contains_xy(region, *points.T) for points in (samples.points, ends.tips))
    return samples.only(clear), ends.only(free)


def _upright_factor(angle_deg: float) -> float:
    return 1.0 + UPRIGHT_BONUS * math.exp(-(((angle_deg - 90.0) / UPRIGHT_DEG) ** 2))


def _chosen(half: HalfCandidate | None, whole: Candidate | None, samples: Samples) -> Axis | None:
    """The axis that is believed, or None."""
    if half is not None and half.score < MIN_HALF_SCORE:
        half = None
    if whole is not None and whole.score < MIN_WHOLE_SCORE:
        whole = None
    if half is not None and whole is not None:
        # How much farther from upright the half's axis is than the whole's.
        behind = abs(half.line.angle_deg - 90.0) - abs(whole.line.angle_deg - 90.0)
        if behind < (LIKE_UPRIGHT_DEG if half.evidence > SURE_EVIDENCE else -LIKE_UPRIGHT_DEG):
            whole = None
        else:
            half = None
    if half is not None:
        return _half_axis(half.line, half.score, samples)
    if whole is not None:
        return _axis(whole.line, whole.score, "whole", samples)
    return None


def _axis(line: Line, score: float, how: str, samples: Samples) -> Axis:
    """Axis through the point nearest to the middle of the drawing."""
    middle = (samples.points.min(axis=0) + samples.points.max(axis=0)) / 2
    point = middle - line.normal * (float(middle @ line.normal) - line.offset)
    return Axis(float(point[0]), float(point[1]), line.angle_deg, float(np.clip(score, 0, 1)), how)


def _half_axis(line: Line, score: float, samples: Samples) -> Axis:
    axis = _axis(line, score, "half", samples)
    towards = np.array([axis.x_mm, axis.y_mm]) + line.normal
    left = float(frame_of(replace(axis, keep="left")).distance(towards)) > 0
    return replace(axis, keep="left" if left else "right")


def _better_side(samples: Samples, ends: Ends, axis: Axis, slack: float) -> Axis:
    """Keep the side with more ink and fewer free ends; alike, the one to the viewer's left (or top)."""
    frame = frame_of(replace(axis, keep="left"))
    distance = frame.distance(samples.points)
    broken = frame.distance(ends.tips)
    left = float((distance > 0).mean())
    left_ends = float(ends.weight[broken > slack].sum())
    right_ends = float(ends.weight[broken < -slack].sum())
    total = left_ends + right_ends + 4.0
    lead = (2 * left - 1) - BROKEN * (left_ends - right_ends) / total
    if abs(lead) < 0.01:
        return replace(axis, keep=keep_side(axis, "left" if 45 <= axis.angle_deg < 135 else "top"))
    return replace(axis, keep="left" if lead > 0 else "right")


def _guided(samples: Samples, ends: Ends, slack: float, line_width: float) -> FoundAxis | None:
    """The axis along a drawn guide line, or None where there is none to believe."""
    for guide in guide_lines(samples, line_width):
        axis = _axis(guide.line, 1.0, "guide", samples)
        rest = samples.points[~guide.on_it]
        distance = frame_of(replace(axis, keep="left")).distance(rest)
        sides = float((distance > slack).mean()), float((distance < -slack).mean())
        if min(sides) <= HALF_SHARE and _touching(guide, samples, slack) >= 2:
            side = "left" if sides[0] > sides[1] else "right"
            return FoundAxis(replace(axis, score=0.9, keep=side), guide)
        # Inside a whole drawing a stroke as strong as the others is a part of it.
        best = _matching(guide, samples) if guide.thin else None
        if best is not None and best >= max(GUIDED_SCORE, MIN_WHOLE_SCORE - 0.2):
            return FoundAxis(_better_side(samples, ends, replace(axis, score=best), slack), guide)
    return None


def _touching(guide: Guide, samples: Samples, slack: float) -> int:
    """How many separate places the rest of the drawing comes up to the guide at."""
    rest = samples.points[~guide.on_it]
    near = np.abs(guide.line.distance(rest)) < max(slack, 2 * guide.half_width_mm)
    if not near.any():
        return 0
    along = np.sort(rest[near] @ guide.line.along)
    return 1 + int((np.diff(along) > 2 * slack).sum())


def _matching(guide: Guide, samples: Samples) -> float | None:
    """How well the drawing without the guide matches about it, if it matches there best."""
    rest = ~guide.on_it
    others = Samples(
        samples.points[rest], samples.tangents[rest], samples.widths[rest], samples.size, samples.step
    )
    normal = guide.line.normal
    for candidate in whole_candidates(others):
        towards = candidate.line.normal
        turned = abs(float(normal[0] * towards[1] - normal[1] * towards[0]))
        sign = 1.0 if float(normal @ towards) > 0 else -1.0
        middle = others.points.mean(axis=0)
        moved = abs(
            float(middle @ normal)
            - guide.line.offset
            - sign * (float(middle @ towards) - candidate.line.offset)
        )
        if turned < math.sin(math.radians(4.0)) and moved < 0.03 * samples.size:
            return candidate.score
    return None


def _along_border(half: HalfCandidate, ink: ScaledInk) -> bool:
    """Whether a line runs along a border of the page, where the picture was cut off."""
    scale = ink.mm_per_px
    height, width = (scale * side for side in ink.coverage.shape)
    normal = half.line.normal
    middle = half.line.offset - normal[0] * width / 2 - normal[1] * height / 2
    slack = math.sin(math.radians(BORDER_DEG))
    upright = abs(normal[1]) < slack and abs(abs(middle) - width / 2) < BORDER_SHARE * width
    lying = abs(normal[0]) < slack and abs(abs(middle) - height / 2) < BORDER_SHARE * height
    return bool(upright or lying)


def _refusal(half: HalfCandidate | None, whole: Candidate | None, *, cut_off: bool) -> str:
    best_whole = f"{round(100 * whole.score)} %" if whole else "nothing"
    if cut_off:
        lines = "its open lines end along the border of the page, where a drawing may just be cut off"
    elif half is None or half.evidence < 0:
        lines = "its open lines do not end on one line either"
    else:
        lines = "too few of its open lines end on one line"
    return (
        f"No axis of symmetry can be trusted: at best {best_whole} of the drawing matches its mirror image, "
        f"and {lines}; {BY_HAND}, or leave mirroring off."
    )

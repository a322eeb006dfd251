"""The axis of a half-drawn figure: the line on which its open lines end.

Method: candidates are the lines through two free ends, and the long sides of the convex hull of the ink (a
half-drawn figure lies on one side of its axis, so the axis nearly is such a side). Each is refined by total
least squares through the tips of the ends on it, and weighed by the evidence, in natural logarithms of how
much likelier it is on an axis than elsewhere:

* the angles at which its ends arrive (bell-shaped about perpendicular, against any angle alike);
* every end on it beyond the two that any line may have;
* blunt contacts: ink that meets the line as broad as it is farther in, as a line does that is cut there, and
  a rounded tip, a bend or a corner does not;
* a thin stroke along it: a guide line, or a line on the axis of which half was left out;
* how much of the drawing's extent its ends span, how many free ends lie elsewhere, and how upright it is.

Limits: a figure of which only closed shapes are drawn has no ends to go by; nor has one whose lines stop
farther short of the axis than the slack. A drawing that was meant to stop along a line, as a ship does that
sails out of its frame, cannot be told from half a figure. The weights of evidence are tuned on drawings, not
derived.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np

from limner.geometry.polylines import arc_lengths
from limner.model.arrays import Flags, Floats
from limner.model.raster import ScaledInk
from limner.symmetry.find.evidence import Ends, Samples
from limner.symmetry.frame import Line

__all__ = ["SURE_EVIDENCE", "HalfCandidate", "half_candidates"]


# Two ends nearer to each other than this share of the size span no direction: with the slack at both they
# leave it open by twenty degrees. A side of the hull shorter than the second share is a corner cut off.
MIN_BASE_SHARE = 0.12
MIN_SIDE_SHARE = 0.2

# So many of the weightiest ends are paired; a drawing with more is hatched rather than half drawn.
MAX_ENDS = 60
MAX_PAIRS = 8

# With more than this share of the ink farther beyond the line than the slack, it runs through the drawing: a
# few overlong tips are less, an eye or an ear is more.
MAX_BEYOND = 0.012

# Ink a little beyond the line: lines may overrun it, but each hundredth of the ink past the first that lies
# farther beyond it than this share of the slack counts against it (natural logarithms).
OVERRUN_SHARE, FREE_OVERRUN, PER_OVERRUN = 0.3, 0.01, 2.0

# A hull side may bend by this share of the size: the tips of uneven lines.
HULL_BEND_SHARE = 0.004

# Arrival angles: of the lines that end on an axis of symmetry this part arrives perpendicular, give or take
# so much (a smooth outline crosses its axis at a right angle), the rest at any angle (a beak, a parting).
ARRIVAL_DEG = 8.0
PERPENDICULAR_PART = 0.6

# Evidence (natural logarithms): each end or contact beyond two; each blunt contact; all ends on it, and
# spread over most of the drawing (`ALL_SPAN`); full span; each end elsewhere about an upright axis and about
# a lying one. What lies level mostly is the ground on which a whole figure stands: it asks for more.
PER_END, PER_BLUNT, ALL_ON_IT, FULL_SPAN = 2.5, 2.0, 3.5, 1.0
ELSEWHERE_UPRIGHT, ELSEWHERE_LYING = 0.25, 0.7
UPRIGHT, UPRIGHT_DEG = 1.5, 30.0
ALL_SPAN = 0.75

# A stroke along the line, thinner than this share of the typical width, is a guide line drawn softly or the
# half of a line that was cut along its middle: evidence in full where it covers so much of the extent.
THIN, THIN_COVER, THIN_LINE = 0.7, 0.4, 8.0

# Beyond this evidence a half is believed against what else speaks: another reading, or another figure.
SURE_EVIDENCE = 9.0

# Evidence at which a candidate scores one half, and its spread: set so that the drawings without symmetry in
# the tests stay below.
EVEN_EVIDENCE, EVIDENCE_SPREAD = 4.4, 1.0

# A contact is blunt when the narrower of its widths on the line and half a line width within is at least this
# share of the other: at a rounded tip it is less.
BLUNT = 0.7

# Steps in which the spread of the refinement narrows.
ROUNDS = 6


@dataclass(frozen=True, slots=True)
class HalfCandidate:
    """A possible axis of a half-drawn figure.

    Parameters
    ----------
    line : Line
        The axis, millimetres; its normal points to the drawn side.
    evidence : float
        Natural logarithm of the odds, up to a constant.
    """

    line: Line
    evidence: float

    @property
    def score(self) -> float:
        """Evidence on a scale from 0 to 1."""
        return 1.0 / (1.0 + math.exp(-max(-50.0, (self.evidence - EVEN_EVIDENCE) / EVIDENCE_SPREAD)))


@dataclass(frozen=True, slots=True, eq=False)
class _Scene:
    """What every candidate is weighed against."""

    ink: ScaledInk
    samples: Samples
    ends: Ends
    slack: float


def half_candidates(ink: ScaledInk, samples: Samples, ends: Ends, slack_mm: float) -> list[HalfCandidate]:
    """Possible axes of a half-drawn figure, best first.

    Parameters
    ----------
    ink : ScaledInk
        The ink.
    samples : Samples
        Points of the drawing.
    ends : Ends
        Free ends of its lines.
    slack_mm : float
        How far a line may stop short of the axis or run over it.

    Returns
    -------
    list of HalfCandidate
    """
    scene = _Scene(ink, samples, ends, slack_mm)
    lines = [_refined(ends, line, slack_mm) for line in _pairs(scene) + _hull_sides(scene)]
    found = [candidate for line in lines if (candidate := _weighed(scene, line)) is not None]
    return sorted(found, key=lambda candidate: -candidate.evidence)


def _pairs(scene: _Scene) -> list[Line]:
    """Lines through two ends with nearly all ink on one side, most promising first."""
    samples, slack = scene.samples, scene.slack
    order = np.argsort(-scene.ends.weight, kind="stable")[:MAX_ENDS]
    tips, outward, weight = scene.ends.tips[order], scene.ends.outward[order], scene.ends.weight[order]
    first, second = np.triu_indices(len(tips), 1)
    base = tips[second] - tips[first]
    length = np.hypot(base[:, 0], base[:, 1])
    use = length > MIN_BASE_SHARE * samples.size
    first, base, length = first[use], base[use], length[use]
    if len(first) == 0:
        return []
    normal = np.stack([-base[:, 1], base[:, 0]], axis=1) / length[:, None]
    offset = (tips[first] * normal).sum(axis=1)
    distance = samples.points @ normal.T - offset
    flip = (distance > 0).mean(axis=0) < 0.5
    normal[flip], offset[flip] = -normal[flip], -offset[flip]
    distance[:, flip] *= -1
    clean = (distance < -slack).mean(axis=0) <= MAX_BEYOND
    near = tips @ normal.T - offset
    arrive = np.clip(-(outward @ normal.T), 0.0, 1.0)
    tally = (weight[:, None] * np.exp(-0.5 * (near / (0.5 * slack)) ** 2) * arrive).sum(axis=0)
    best = np.argsort(-np.where(clean, tally, -1.0), kind="stable")[:MAX_PAIRS]
    return [Line(math.atan2(normal[k, 1], normal[k, 0]), float(offset[k])) for k in best if clean[k]]


def _hull_sides(scene: _Scene) -> list[Line]:
    """Lines along the long sides of the convex hull of the ink."""
    scale = scene.ink.mm_per_px
    size = scene.samples.size / scale
    hull = _hull(scene.ink.mask)
    ring = np.concatenate([hull, hull[:1]])
    arc = arc_lengths(ring)
    at = np.arange(0.0, arc[-1], max(1.0, 0.002 * size))
    dense = np.stack([np.interp(at, arc, ring[:, axis]) for axis in (0, 1)], axis=1)
    bend = HULL_BEND_SHARE * size
    corners = cv2.approxPolyDP(hull.astype(np.float32)[:, None], bend, True)[:, 0].astype(np.float64)
    middle = scene.samples.points.mean(axis=0) / scale
    lines = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        side = b - a
        length = float(np.hypot(side[0], side[1]))
        if length < MIN_SIDE_SHARE * size:
            continue
        across = (dense[:, 0] - a[0]) * -side[1] + (dense[:, 1] - a[1]) * side[0]
        along = (dense - a) @ side / length
        cloud = dense[(np.abs(across) < bend * length) & (along > 0) & (along < length)]
        if len(cloud) > 2:
            side_line = _line_through(cloud, np.ones(len(cloud)), middle)
            lines.append(Line(side_line.normal_rad, side_line.offset * scale))
    return lines


def _hull(mask: Flags) -> Floats:
    """Convex hull of the pixels' squares, shape (n, 2), pixels."""
    rows = np.flatnonzero(mask.any(axis=1))
    first = mask[rows].argmax(axis=1)
    last = mask.shape[1] - mask[rows, ::-1].argmax(axis=1)
    corners = np.concatenate(
        [np.stack([x, y], axis=1) for x in (first, last) for y in (rows, rows + 1)]
    ).astype(np.float32)
    return np.asarray(cv2.convexHull(corners)[:, 0], np.float64)


def _line_through(points: Floats, weight: Floats, towards: Floats) -> Line:
    """Total least squares line, its normal on the side of `towards`."""
    middle = (weight[:, None] * points).sum(axis=0) / weight.sum()
    spots = points - middle
    along = np.linalg.eigh((weight[:, None] * spots).T @ spots)[1][:, 1]
    normal = np.array([-along[1], along[0]])
    if float(normal @ (towards - middle)) < 0:
        normal = -normal
    return Line(math.atan2(normal[1], normal[0]), float(middle @ normal))


def _refined(ends: Ends, line: Line, slack_mm: float) -> Line:
    """Total least squares through the tips, the spread narrowing from the slack to a third of it."""
    for spread in np.geomspace(0.7 * slack_mm, 0.3 * slack_mm, ROUNDS):
        normal, distance = line.normal, line.distance(ends.tips)
        arrive = np.clip(-(ends.outward @ normal), 0.0, 1.0)
        weight = ends.weight * arrive * np.exp(-0.5 * (distance / spread) ** 2)
        on_it = weight > 0.02
        if np.count_nonzero(on_it) < 2 or np.ptp(ends.tips[on_it], axis=0).max() < 4 * slack_mm:
            break
        line = _line_through(ends.tips, weight, ends.tips.mean(axis=0) + 1e6 * normal)
    return line


def _weighed(scene: _Scene, line: Line) -> HalfCandidate | None:
    """The candidate with its evidence; None where ink lies beyond it or too little ends on it."""
    samples, ends, slack = scene.samples, scene.ends, scene.slack
    normal, along = line.normal, line.along
    depth = line.distance(samples.points)
    if float((depth < -slack).mean()) > MAX_BEYOND:
        return None
    overrun = max(0.0, float((depth < -OVERRUN_SHARE * slack).mean()) - FREE_OVERRUN)
    distance = line.distance(ends.tips)
    on_it = ends.weight * np.exp(-0.5 * (distance / (0.5 * slack)) ** 2)
    arrival = np.degrees(np.arccos(np.clip(-(ends.outward @ normal), -1.0, 1.0)))
    elsewhere = float((ends.weight * (np.abs(distance) > slack)).sum())
    where = samples.points @ along
    low, high = float(where.min()), float(where.max())
    blunt, places = _blunt_contacts(scene.ink, line, (low, high))
    places = np.concatenate([ends.tips[on_it > 0.25] @ along, places])
    count = max(float(on_it.sum()), len(places) / 2)
    thin = _thin_cover(scene, depth, along, high - low)
    if thin < 0.5 and (len(places) < 2 or count < 1.0):
        return None
    span = float(np.ptp(places)) / max(high - low, 1e-9) if len(places) else 0.0
    lying = abs(line.angle_deg - 90.0)
    evidence = float((on_it * _arrival_odds(arrival)).sum()) + PER_BLUNT * blunt
    evidence += PER_END * max(0.0, count - 2.0)
    evidence += FULL_SPAN * float(np.interp(span, [0.3, 0.85], [-2.0, 1.0]))
    evidence += ALL_ON_IT if span > ALL_SPAN and elsewhere < 0.5 else 0.0
    evidence -= elsewhere * float(np.interp(lying, [30.0, 60.0], [ELSEWHERE_UPRIGHT, ELSEWHERE_LYING]))
    evidence += THIN_LINE * thin
    evidence -= PER_OVERRUN * 100.0 * overrun
    evidence += UPRIGHT * math.exp(-((lying / UPRIGHT_DEG) ** 2)) - UPRIGHT / 3
    return HalfCandidate(line, evidence)


def _thin_cover(scene: _Scene, depth: Floats, along: Floats, extent: float) -> float:
    """How much of the extent a thin stroke along the line covers, 0 to 1 (at `THIN_COVER`)."""
    samples = scene.samples
    width = float(np.median(samples.widths))
    beside = (np.abs(depth) < width) & (np.abs(samples.tangents @ along) > math.cos(math.radians(10.0)))
    thin = beside & (samples.widths < THIN * width)
    cover = float(np.count_nonzero(thin)) * samples.step / max(extent, 1e-9)
    return min(1.0, cover / THIN_COVER)


def _arrival_odds(angle_deg: Floats) -> Floats:
    """Logarithm of how much likelier an end arrives at this angle on an axis than elsewhere."""
    bell = math.sqrt(2 / math.pi) / ARRIVAL_DEG * np.exp(-0.5 * (angle_deg / ARRIVAL_DEG) ** 2)
    any_way = (1 - PERPENDICULAR_PART) / 90.0 * (angle_deg < 90.0)
    # The last term: an end that points away from the axis was traced wrongly, now and then.
    return np.asarray(np.log((PERPENDICULAR_PART * bell + any_way + 2e-4) * 180.0))


def _blunt_contacts(ink: ScaledInk, line: Line, extent: tuple[float, float]) -> tuple[float, Floats]:
    """Weight of the contacts at which the ink is cut off by the line, and their places along it."""
    scale, width = ink.mm_per_px, ink.line_width_px
    normal, along = line.normal, line.along
    step = 0.5
    at = np.arange(extent[0] / scale - width, extent[1] / scale + width, step)
    spots = normal * (line.offset / scale) - 0.5 + along * at[:, None]
    rim = _runs(ink, spots + normal * max(0.75, 0.1 * width))
    inner = _runs(ink, spots + normal * (0.5 * width + 0.75))
    total, places = 0.0, []
    for start, stop in rim:
        if not 0.5 * width < (stop - start) * step < 4 * width:
            continue
        over = [(a, b) for a, b in inner if a < stop and b > start]
        if len(over) == 1:
            lengths = sorted([stop - start, over[0][1] - over[0][0]])
            ratio = lengths[0] / lengths[1]
            if ratio > BLUNT:
                total += (ratio - BLUNT) / (1.0 - BLUNT)
                places.append((at[start] + at[stop - 1]) / 2 * scale)
    return total, np.array(places)


def _runs(ink: ScaledInk, spots: Floats) -> list[tuple[int, int]]:
    """Stretches of ink along a line of spots: first index, and the one after the last."""
    where = spots.astype(np.float32)[:, None]
    cover = cv2.remap(
        ink.coverage, where[..., 0].copy(), where[..., 1].copy(), cv2.INTER_LINEAR, borderValue=0.0
    )
    flags = np.concatenate([[0], (cover[:, 0] >= 0.5).astype(np.int8), [0]])
    edges = np.flatnonzero(np.diff(flags))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]

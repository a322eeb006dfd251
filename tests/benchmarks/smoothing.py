"""What smoothing does to drawings by a simulated hand, whose clean lines are known.

::

    python tests/benchmarks/smoothing.py                     # 12 drawings, a few minutes
    python tests/benchmarks/smoothing.py --drawings 40 --keep FOLDER
    python tests/benchmarks/smoothing.py --aside             # those that no constant was tuned on

Each drawing is drawn by its own hand (tremor, passes, width), mapped once, and fitted at several times the
default smoothing. Every third drawing is kept aside. A row tells, as sums or means over the drawings:

nodes, corners: of lines and of fills; turn: of the outlines of lines, in full turns; spread: standard
deviation of the width across the lines, in their mean width; off: root mean square distance of both edges of
the lines from where a steady hand would have drawn them, mm; mid: of the middle between them alone; fills:
the same of the edges of fills from the clean lines; crossed: outlines that cross themselves; true, lost:
corners of the clean lines (over 50 degrees, arms over three smoothings), and those of them without a corner
within one smoothing and a line's width.
"""

import argparse
import pickle
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parents[1] / "fixtures"))

LEVELS = (1.0, 1.5, 2.0, 3.0, 4.0)
PAGE_MM = (148.0, 210.0)
PX_PER_MM = 8.0
# Places across lines are this far apart, and this far from where lines meet, end or turn sharply.
STEP_MM, CLEAR_MM, REACH_MM = 0.6, 2.2, 1.3
CORNER_DEG, TRUE_CORNER_DEG = 20.0, 50.0
ASIDE_EVERY = 3


@dataclass(frozen=True)
class Case:
    """One drawing: its map, and what is true of it."""

    name: str
    mapped: object
    line_mm: float
    strokes: list
    points: np.ndarray
    normals: np.ndarray
    widths: np.ndarray


def drawn(k):
    """The drawing of a number, its hand and its place on the page."""
    from sketchmaker.creatures import anemone, crab, octopus, sea_star, seahorse
    from sketchmaker.diver import diver
    from sketchmaker.hand import Hand
    from sketchmaker.pencil import centred
    from sketchmaker.shells import cockle, scallop, whelk

    makers = (crab, sea_star, diver, octopus, whelk, seahorse, scallop, anemone, cockle)
    rng = np.random.default_rng(1000 + k)
    drawing = makers[k % len(makers)]()
    hand = Hand(
        line_mm=float(rng.uniform(0.6, 0.9)),
        pressure=float(rng.uniform(0.7, 0.9)),
        wobble_mm=float(rng.uniform(0.1, 0.4)),
        passes=int(rng.integers(1, 3)),
        smudge=0.2,
    )
    left, top, right, bottom = drawing.bounds
    fits = min(PAGE_MM[0] / (right - left), PAGE_MM[1] / (bottom - top))
    layout = centred(drawing, PAGE_MM, float(rng.uniform(0.6, 0.85)) * fits, float(rng.uniform(-8, 8)))
    return drawing, hand, layout


def made(k):
    """Draw, map and measure one case."""
    import shapely
    from PIL import Image

    from limner.pipeline.sketch.settings import TraceSettings
    from limner.pipeline.sketch.trace import trace
    from sketchmaker.degrade import sensor
    from sketchmaker.pencil import draw_pencil

    drawing, hand, layout = drawn(k)
    sheet = draw_pencil(drawing, size_mm=PAGE_MM, px_per_mm=PX_PER_MM, seed=k, layout=layout, hand=hand)
    light = (0.85 * (1 - 0.9 * sheet.darkness))[..., None].repeat(3, axis=2).astype(np.float32)
    photo = sensor(light, blur_px=0.7, noise=0.012, rng=np.random.default_rng(k))
    with TemporaryDirectory() as folder:
        path = Path(folder) / "sketch.png"
        Image.fromarray(photo).save(path)
        traced = trace(path, TraceSettings(width_mm=PAGE_MM[0], paper="none"))
    strokes = [replace(s, points=layout.put(s.points)) for s in drawing.strokes]
    lines = [shapely.LineString(s.points) for s in strokes]
    rows = []
    for i, stroke in enumerate(strokes):
        others = shapely.union_all(
            [line for j, line in enumerate(lines) if j != i]
            + [shapely.Polygon(layout.put(solid.rings[0])) for solid in drawing.solids]
        )
        rows += [(*row, hand.line_mm * stroke.width) for row in across(stroke, others)]
    table = np.array(rows)
    return Case(drawing.name, traced.mapped, hand.line_mm, strokes, table[:, :2], table[:, 2:4], table[:, 4])


def across(stroke, others):
    """Places and normals along a stroke, away from others, from its ends and from its corners."""
    import shapely

    if stroke.taper:
        return []
    points = stroke.points
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    closed = np.hypot(*(points[0] - points[-1])) < 0.1
    first = 0.0 if closed else CLEAR_MM + 1.0
    at = np.arange(first, along[-1] - first, STEP_MM)
    place = np.stack([np.interp(at, along, points[:, a]) for a in (0, 1)], axis=1)
    period = along[-1]

    def moved(by):
        on = (at + by) % period if closed else at + by
        return np.stack([np.interp(on, along, points[:, a]) for a in (0, 1)], axis=1)

    heading = moved(0.2) - moved(-0.2)
    heading /= np.maximum(np.hypot(*heading.T), 1e-9)[:, None]
    ahead, back = moved(1.5) - place, place - moved(-1.5)
    turn = np.abs(np.arctan2(ahead[:, 0] * back[:, 1] - ahead[:, 1] * back[:, 0], (ahead * back).sum(axis=1)))
    keep = (shapely.distance(shapely.points(place), others) > CLEAR_MM) & (np.degrees(turn) < 60)
    normal = np.stack([-heading[:, 1], heading[:, 0]], axis=1)
    return np.concatenate([place, normal], axis=1)[keep]


def sections(rings, case):
    """Where the lines begin and end across each place, shape (n, 2), from it; NaN where there is none."""
    starts = np.concatenate(rings)
    ends = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
    found = np.full((len(case.points), 2), np.nan)
    order = np.argsort(starts[:, 0])
    starts, ends = starts[order], ends[order]
    longest = np.hypot(*(ends - starts).T).max()
    for k, (place, normal) in enumerate(zip(case.points, case.normals, strict=True)):
        low, high = np.searchsorted(
            starts[:, 0], [place[0] - REACH_MM - longest, place[0] + REACH_MM + longest]
        )
        a, b = starts[low:high] - place, ends[low:high] - place
        side = np.array([-normal[1], normal[0]])
        u, v = a @ side, b @ side
        hit = (u < 0) != (v < 0)
        share = u[hit] / (u[hit] - v[hit])
        offset = (a[hit] + share[:, None] * (b[hit] - a[hit])) @ normal
        # Ink lies on the same side of all outlines: it begins where they run one way across.
        begins = (v < u)[hit]
        near = np.abs(offset) < REACH_MM
        rank = np.argsort(offset[near])
        offset, begins = offset[near][rank], begins[near][rank]
        pairs = [
            (p, q)
            for p, q, one, other in zip(offset, offset[1:], begins, begins[1:], strict=False)
            if one and not other
        ]
        if pairs:
            found[k] = min(pairs, key=lambda pair: abs(pair[0] + pair[1]))
    return found


def turns(path):
    """Turn at each node of a closed path, degrees."""
    s = path.segments
    out, into = s[:, 1] - s[:, 0], np.roll(s[:, 3] - s[:, 2], 1, axis=0)
    return np.abs(
        np.degrees(np.arctan2(into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0], (into * out).sum(axis=1)))
    )


def ring_turn(ring):
    """Total turning of a ring, in full turns."""
    step = np.roll(ring, -1, axis=0) - ring
    angle = np.arctan2(step[:, 1], step[:, 0])
    return float(np.abs(np.angle(np.exp(1j * (np.roll(angle, -1) - angle)))).sum() / (2 * np.pi))


def true_corners(case, arm_mm):
    """Corners of the clean strokes with arms of some length."""
    found = []
    for stroke in case.strokes:
        points = stroke.points
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])

        def at(where, along=along, points=points):
            return np.stack([np.interp(where, along, points[:, a]) for a in (0, 1)], axis=1)

        grid = np.arange(arm_mm, along[-1] - arm_mm, 0.1)
        if not len(grid):
            continue
        # Within a tenth of a millimetre: a corner of the form, not a tight bend.
        near, far = at(grid + 0.12) - at(grid + 0.02), at(grid - 0.02) - at(grid - 0.12)
        turn = np.degrees(
            np.abs(np.arctan2(near[:, 0] * far[:, 1] - near[:, 1] * far[:, 0], (near * far).sum(1)))
        )
        for k in np.flatnonzero(turn > TRUE_CORNER_DEG):
            window = turn[max(k - 5, 0) : k + 6]
            if turn[k] == window.max() and (
                not found or np.hypot(*(found[-1] - at(grid[k : k + 1])[0])) > 0.5
            ):
                found.append(at(grid[k : k + 1])[0])
    return np.array(found).reshape(-1, 2)


def rms(values, most):
    """Root mean square of what is no larger than so much."""
    return float(np.sqrt(np.nanmean(np.minimum(np.abs(values), most) ** 2)))


def edges_off(found, case):
    """Spread of the width, distance of the edges and of the middle."""
    width, middle = found[:, 1] - found[:, 0], found.mean(axis=1)
    good = ~np.isnan(width) & (width < 2.2 * case.widths)
    width, middle, true = width[good], middle[good], case.widths[good]
    usual = float(np.median(width / true))
    spread = float((width / true).std() / (width / true).mean())
    half = 0.5 * usual * true
    edges = np.concatenate([middle - width / 2 + half, middle + width / 2 - half])
    return spread, rms(edges, 1.0), rms(middle, 1.0)


def measured(k, keep, levels, lines):
    """All measures of one drawing: the noisy ink first, then each level."""
    import shapely

    from limner.curves.drawing import trace_curves
    from limner.curves.settings import CurveSettings
    from limner.geometry.cubics import flatten

    path = keep / f"case-{k}.pickle"
    if not path.exists():
        path.write_bytes(pickle.dumps(made(k)))
    case = pickle.loads(path.read_bytes())
    clean = shapely.union_all([shapely.LineString(s.points) for s in case.strokes])
    ink = [ring.points for ring in case.mapped.regions.ink]
    spread, off, mid = edges_off(sections(ink, case), case)
    rows = [{"spread": spread, "off": off, "mid": mid}]
    default = 0.2 * case.mapped.regions.graph.line_width_mm
    for level in levels:
        curves = CurveSettings(smoothing_mm=level * default, lines=lines)
        drawing = trace_curves(case.mapped.regions, curves)
        outlines = [p for shape in drawing.lines for p in shape.paths]
        fills = [p for shape in drawing.fills for p in shape.paths]
        rings = [flatten(p, 0.003) for p in outlines]
        spread, off, mid = edges_off(sections(rings, case), case)
        spots = np.concatenate([flatten(p, 0.01) for p in fills] or [np.zeros((0, 2))])
        true = true_corners(case, 3 * level * default)
        places = np.concatenate([p.segments[turns(p) > 30, 0] for p in outlines])
        reach = level * default + case.line_mm
        lost = sum(np.hypot(*(places - corner).T).min() > reach for corner in true)
        rows.append(
            {
                "nodes": sum(len(p.segments) for p in outlines),
                "fill_nodes": sum(len(p.segments) for p in fills),
                "corners": sum(int((turns(p) > CORNER_DEG).sum()) for p in outlines),
                "fill_corners": sum(int((turns(p) > CORNER_DEG).sum()) for p in fills),
                "turn": sum(ring_turn(ring) for ring in rings),
                "spread": spread,
                "off": off,
                "mid": mid,
                "fills": rms(shapely.distance(shapely.points(spots), clean), 0.4),
                "crossed": sum(not shapely.LinearRing(ring).is_simple for ring in rings),
                "true": len(true),
                "lost": int(lost),
                "error": max([s.error_mm for s in drawing.lines + drawing.fills]) / (level * default),
            }
        )
    return rows


SUMS = ("nodes", "fill_nodes", "corners", "fill_corners", "turn", "crossed", "true", "lost")


def shown(results, levels):
    """One row per level."""
    names = list(results[0][1])
    print("level  " + " ".join(f"{name:>12}" for name in names))
    raw = {name: np.mean([rows[0][name] for rows in results]) for name in ("spread", "off", "mid")}
    print("drawn  " + " ".join(f"{raw[name]:12.4f}" if name in raw else " " * 12 for name in names))
    for i, level in enumerate(levels, start=1):
        row = []
        for name in names:
            values = [rows[i][name] for rows in results]
            row.append(f"{sum(values):12.0f}" if name in SUMS else f"{np.mean(values):12.4f}")
        print(f"{level:5.1f}  " + " ".join(row))
    for name in ("corners", "turn", "spread", "off"):
        rises = sum(any(b[name] > a[name] * 1.005 for a, b in pairwise(rows[1:])) for rows in results)
        print(f"drawings in which {name} rises somewhere: {rises} of {len(results)}")


def main():
    """Measure and show."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--drawings", type=int, default=12)
    parser.add_argument("--aside", action="store_true", help="those kept aside instead")
    parser.add_argument("--lines", default="drawn")
    parser.add_argument("--levels", type=float, nargs="+", default=LEVELS)
    parser.add_argument("--keep", type=Path)
    given = parser.parse_args()
    numbers = [k for k in range(given.drawings) if (k % ASIDE_EVERY == ASIDE_EVERY - 1) == given.aside]
    with TemporaryDirectory() as folder, ProcessPoolExecutor(1) as pool:
        keep = given.keep or Path(folder)
        keep.mkdir(parents=True, exist_ok=True)
        jobs = [pool.submit(measured, k, keep, given.levels, given.lines) for k in numbers]
        shown([job.result() for job in jobs], given.levels)


if __name__ == "__main__":
    main()

"""From the planar map to the drawing: every chain of edges is fitted once and shared by its areas.

Fills are simple shapes without holes: what lies inside an area lies above it in the stack. Areas reach to
the middle of the drawn lines, so that the ink covers every seam.
"""

from collections import Counter
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from limner.curves.crossings import crossing_rings
from limner.curves.edge_chains import Chain, build_chains, walk
from limner.curves.fit.budget import fit_within_budget
from limner.curves.fit.kept import FitStore
from limner.curves.fit.polylines import Fit, Polyline
from limner.curves.junction_tangents import tangents_through
from limner.curves.marks.places import marks_on
from limner.curves.settings import CurveSettings
from limner.curves.smoothing import FOLLOW_LINE_WIDTHS, gradual, smoothing_at
from limner.geometry.cubics import concatenate, reverse
from limner.geometry.cycles import cycle_points
from limner.geometry.polylines import arc_lengths
from limner.geometry.rings import inside_rings
from limner.model.arrays import Floats
from limner.model.drawing import Drawing, Shape, ShapeRole, Zone
from limner.model.geometry import CubicPath
from limner.model.regionmap import Area, Cycle, InkRing, RegionMap

__all__ = ["FittedMap", "draw_fitted", "fit_map", "trace_curves"]


# Colour of areas that nobody gave one.
PAPER = "#ffffff"

# An outline of a thin line may move by this share of its own width, the usual default: it stays whole.
_THIN_LINE_WIDTHS = 0.2

# An outline no longer than so many smoothings bounds a speck: calmed, it would be a sliver.
LONGEST_SPECK_SMOOTHINGS = 8.0

# Outlines that cross are fitted again within this share of their smoothing, down to what follows the hand.
SHARE_WHERE_CROSSING = 0.5

# Directions closer than this are one, given twice: far above rounding, far below what is seen.
SAME_DIRECTION_RAD = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class FittedMap:
    """Fits of all that a planar map is made of.

    Parameters
    ----------
    home : dict of int to (int, bool)
        For each edge its chain, and whether both run the same way.
    chains : tuple of Fit
        Of each chain of edges.
    rings : tuple of (InkRing, Fit)
        Of the ink as it was drawn.
    even : tuple of Shape
        The ink with an even width.
    """

    home: dict[int, tuple[int, bool]]
    chains: tuple[Fit, ...]
    rings: tuple[tuple[InkRing, Fit], ...]
    even: tuple[Shape, ...]


def trace_curves(regions: RegionMap, settings: CurveSettings, zones: tuple[Zone, ...] = ()) -> Drawing:
    """Fit all outlines of a planar map: `draw_fitted` what `fit_map` gives.

    Raises
    ------
    GeometryError
        The budget of nodes is too small; the message names the fewest possible.
    """
    return draw_fitted(regions, fit_map(regions, settings, zones), settings)


def fit_map(
    regions: RegionMap,
    settings: CurveSettings,
    zones: tuple[Zone, ...] = (),
    known: FitStore | None = None,
) -> FittedMap:
    """Fit all outlines of a planar map.

    Parameters
    ----------
    regions : RegionMap
        The map; what its areas are called and filled with changes no fit.
    settings : CurveSettings
        How to fit.
    zones : tuple of Zone
        Parts of the page with their own smoothing.
    known : FitStore or None
        Fits that need not be worked out again.

    Returns
    -------
    FittedMap

    Raises
    ------
    GeometryError
        The budget of nodes is too small; the message names the fewest possible.
    """
    known = known or FitStore()
    cycles = _cycles(regions)
    used = {edge for cycle in cycles for edge, _ in cycle}
    chains, home = build_chains(regions.graph, used)
    smoothing = _edge_smoothing(regions)
    follow_mm = FOLLOW_LINE_WIDTHS * regions.graph.line_width_mm
    chain_lines = [
        replace(
            _chain_polyline(chain, smoothing, settings, zones, regions.graph.line_width_mm),
            follow_mm=follow_mm,
            asked=marks_on(chain.points, chain.closed, regions.marks),
        )
        for chain in chains
    ]
    through = tangents_through(chain_lines, [walk(c, home) for c in cycles], regions.graph.line_width_mm)
    chain_lines = [
        replace(line, start_tangent=through.get((k, False)), end_tangent=through.get((k, True)))
        for k, line in enumerate(chain_lines)
    ]
    rings = (
        tuple(r for r in regions.ink if np.ptp(r.points, axis=0).any()) if settings.lines == "drawn" else ()
    )
    ring_lines = _ring_lines(rings, regions, settings, zones, follow_mm)
    even: tuple[Shape, ...] = ()
    if settings.lines in ("even", "tapered"):
        from limner.curves.even.outlines import even_lines

        even = even_lines(regions, settings, zones, known)
    spent = sum(shape.node_count for shape in even)
    fits = _fitted(regions, settings, zones, home, chain_lines + ring_lines, spent, known)
    ring_fits = fits[len(chains) :]
    if settings.nodes is None:
        ring_fits = _uncrossed(rings, ring_lines, ring_fits, regions.graph.line_width_mm, known)
    of_rings = tuple(zip(rings, ring_fits, strict=True))
    return FittedMap(home, tuple(fits[: len(chains)]), of_rings, even)


def draw_fitted(regions: RegionMap, fitted: FittedMap, settings: CurveSettings) -> Drawing:
    """Make shapes of fits.

    Parameters
    ----------
    regions : RegionMap
        The map whose fits they are.
    fitted : FittedMap
        The fits.
    settings : CurveSettings
        As for `fit_map`.

    Returns
    -------
    Drawing
    """
    fills = _silhouettes(regions, fitted, settings) + _areas(regions, fitted)
    lines = fitted.even if settings.lines in ("even", "tapered") else _ink(fitted.rings, settings)
    return Drawing(regions.width_mm, regions.height_mm, fills, lines, regions.graph.line_width_mm)


def _cycles(regions: RegionMap) -> list[Cycle]:
    """All closed walks along the edges that become paths."""
    return [*regions.silhouettes, *regions.openings, *(area.outline for area in regions.areas)]


def _fitted(
    regions: RegionMap,
    settings: CurveSettings,
    zones: tuple[Zone, ...],
    home: dict[int, tuple[int, bool]],
    lines: list[Polyline],
    spent: int,
    known: FitStore,
) -> list[Fit]:
    """Fits of all lines: first those with a budget of their own, then the rest with what is left.

    `spent` is what shapes that are made already take of the drawing's budget.
    """
    cycles = _cycles(regions)
    uses = Counter(k for cycle in cycles for k, _ in walk(cycle, home))
    # An ink ring (whose index is no chain's) is in one shape.
    times = [uses.get(k, 1) for k in range(len(lines))]
    fits: dict[int, Fit] = {}
    for area in regions.areas:
        if area.nodes is not None:
            mine = {k for k, _ in walk(area.outline, home)}
            _spend_on(fits, known, lines, mine, area.nodes, None, f'area "{area.name}"')
    for zone in zones:
        if zone.nodes is not None:
            mine = {k for k, line in enumerate(lines) if inside_rings(line.points, zone.rings).mean() > 0.5}
            _spend_on(fits, known, lines, mine, zone.nodes, times, f'zone "{zone.name}"')
    rest = [k for k in range(len(lines)) if k not in fits]
    if settings.nodes is None:
        fits.update(zip(rest, known.fits([lines[k] for k in rest]), strict=True))
    else:
        _spend_on(fits, known, lines, set(range(len(lines))), settings.nodes, times, "drawing", spent)
    return [fits[k] for k in range(len(lines))]


def _spend_on(
    fits: dict[int, Fit],
    known: FitStore,
    lines: list[Polyline],
    mine: set[int],
    nodes: int,
    times: list[int] | None,
    what: str,
    spent: int = 0,
) -> None:
    """Fit the lines `mine` that have no fit yet within what the others leave of a budget."""
    todo = sorted(k for k in mine if k not in fits)
    spent += sum((times[k] if times else 1) * len(fits[k].path.segments) for k in mine if k in fits)
    weights = [times[k] for k in todo] if times else None
    # Calmed lines have as many nodes as they ask for: a budget is held by the tolerance alone.
    plain = [replace(lines[k], follow_mm=None) for k in todo]
    made = fit_within_budget(plain, nodes, known, spent=spent, weights=weights, what=what)
    fits.update(zip(todo, made, strict=True))


def _edge_smoothing(regions: RegionMap) -> dict[int, float]:
    """An area's own smoothing for its edges; the smaller one where two areas have their own."""
    own: dict[int, float] = {}
    for area in regions.areas:
        if area.smoothing_mm is None:
            continue
        for edge, _ in area.outline:
            own[edge] = min(own.get(edge, np.inf), area.smoothing_mm)
    return own


def _ring_smoothing(ring: InkRing, regions: RegionMap, settings: CurveSettings) -> Floats | float:
    """The drawing's smoothing; along lines far thinner than its typical one no more than they can bear."""
    if ring.width_mm is None:
        return settings.smoothing_mm
    thin = ring.width_mm < regions.graph.line_width_mm
    most = np.where(thin, _THIN_LINE_WIDTHS * ring.width_mm, np.inf)
    return np.asarray(np.minimum(settings.smoothing_mm, most))


def _ring_lines(
    rings: tuple[InkRing, ...],
    regions: RegionMap,
    settings: CurveSettings,
    zones: tuple[Zone, ...],
    follow_mm: float,
) -> list[Polyline]:
    """Outlines of the ink; where any is to be calmed, with the parts that keep their form."""
    lines = [
        replace(
            _smoothed(
                ring.points,
                smoothing_at(ring.points, _ring_smoothing(ring, regions, settings), zones),
                True,
                regions.graph.line_width_mm,
            ),
            follow_mm=follow_mm,
            asked=marks_on(ring.points, True, regions.marks),
        )
        for ring in rings
    ]
    if not any((line.tolerance > follow_mm).any() for line in lines):
        return lines
    from limner.curves.even.firm import firm_parts

    firm = firm_parts(regions.graph, [line.points for line in lines])
    lines = [
        line if ring.solid else replace(line, firm=parts)
        for ring, line, parts in zip(rings, lines, firm, strict=True)
    ]
    return [replace(line, follow_mm=None) if _is_speck(line) else line for line in lines]


def _is_speck(line: Polyline) -> bool:
    """Whether an outline is so short against its smoothing that a dot is all that is left of it."""
    length = arc_lengths(np.concatenate([line.points, line.points[:1]]))[-1]
    return bool(length < LONGEST_SPECK_SMOOTHINGS * float(line.tolerance.min()))


def _uncrossed(
    rings: tuple[InkRing, ...],
    lines: list[Polyline],
    fits: list[Fit],
    line_width_mm: float,
    known: FitStore,
) -> list[Fit]:
    """Fits of outlines, those that cross others fitted again, within less and less of their smoothing.

    What follows the hand is not looked at: its edges lie farther apart than that.
    """
    follow_mm = FOLLOW_LINE_WIDTHS * line_width_mm
    lines, fits = list(lines), list(fits)
    while any((line.tolerance > follow_mm).any() for line in lines):
        crossing = crossing_rings([f.path for f in fits], [ring.piece for ring in rings], line_width_mm)
        again = [k for k in crossing if (lines[k].tolerance > follow_mm).any()]
        if not again:
            break
        for k in again:
            less = np.maximum(SHARE_WHERE_CROSSING * lines[k].tolerance, follow_mm)
            lines[k] = replace(lines[k], tolerance=np.minimum(less, lines[k].tolerance))
        made = known.fits([lines[k] for k in again])
        for k, fit in zip(again, made, strict=True):
            fits[k] = fit
    return fits


def _smoothed(points: Floats, allowed: Floats, closed: bool, line_width_mm: float) -> Polyline:
    """A polyline whose smoothing changes gradually."""
    return Polyline(points, gradual(points, allowed, closed, line_width_mm), closed, nodes_at_changes=False)


def _chain_polyline(
    chain: Chain,
    own: dict[int, float],
    settings: CurveSettings,
    zones: tuple[Zone, ...],
    line_width_mm: float,
) -> Polyline:
    base = np.array([own.get(int(edge), settings.smoothing_mm) for edge in chain.edge_of])
    return _smoothed(chain.points, smoothing_at(chain.points, base, zones), chain.closed, line_width_mm)


def _outline(cycle: Cycle, fitted: FittedMap) -> tuple[CubicPath, float]:
    """Closed path along a cycle, and the largest error of its parts."""
    steps = walk(cycle, fitted.home)
    parts = [fitted.chains[k].path if forward else reverse(fitted.chains[k].path) for k, forward in steps]
    error = max(fitted.chains[k].error_mm for k, _ in steps)
    if len(parts) == 1 and parts[0].closed:
        return parts[0], error
    path = concatenate(parts, closed=True)
    first = np.cumsum([0] + [len(part.segments) for part in parts[:-1]])
    smooth = path.smooth.copy()
    smooth[first] = _runs_on(path)[first]
    return replace(path, smooth=smooth), error


def _runs_on(path: CubicPath) -> NDArray[np.bool_]:
    """Whether a closed path keeps its direction through the start of each segment."""
    out = path.segments[:, 1] - path.segments[:, 0]
    into = np.roll(path.segments[:, 3] - path.segments[:, 2], 1, axis=0)
    cross = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]
    return np.asarray(np.abs(np.arctan2(cross, (into * out).sum(axis=1))) < SAME_DIRECTION_RAD)


def _silhouettes(regions: RegionMap, fitted: FittedMap, settings: CurveSettings) -> tuple[Shape, ...]:
    """The base, with what it leaves open cut out of the silhouette around it."""
    holes_in: dict[int, list[Cycle]] = {}
    rings = [cycle_points(regions.graph.edges, cycle) for cycle in regions.silhouettes]
    for opening in regions.openings:
        points = cycle_points(regions.graph.edges, opening)
        inside = [inside_rings(points, [ring]).mean() for ring in rings]
        holes_in.setdefault(int(np.argmax(inside)), []).append(opening)
    shapes = []
    for k, cycle in enumerate(regions.silhouettes):
        traced = [_outline(part, fitted) for part in (cycle, *holes_in.get(k, []))]
        name = "silhouette" if k == 0 else f"silhouette-{k + 1}"
        paths, error = tuple(path for path, _ in traced), max(error for _, error in traced)
        shapes.append(Shape(name, "silhouette", paths, settings.silhouette_fill, error))
    return tuple(shapes)


def _areas(regions: RegionMap, fitted: FittedMap) -> tuple[Shape, ...]:
    return tuple(_area(area, fitted) for area in regions.areas)


def _area(area: Area, fitted: FittedMap) -> Shape:
    path, error = _outline(area.outline, fitted)
    fill = area.fill or PAPER
    return Shape(
        area.name, "area", (path,), fill, error, area.area_mm2, area.bridged_gaps, area.rule, area.inked
    )


def _ink(rings: tuple[tuple[InkRing, Fit], ...], settings: CurveSettings) -> tuple[Shape, ...]:
    """One shape per connected piece of ink, in the order of the pieces."""
    pieces: dict[int, list[tuple[InkRing, Fit]]] = {}
    for ring, fit in rings:
        pieces.setdefault(ring.piece, []).append((ring, fit))
    counts: Counter[str] = Counter()
    shapes = []
    for piece in sorted(pieces):
        mine = pieces[piece]
        role: ShapeRole = "solid" if mine[0][0].solid else "line"
        counts[role] += 1
        paths = tuple(fit.path for _, fit in mine)
        error = max(fit.error_mm for _, fit in mine)
        shapes.append(Shape(f"{role}-{counts[role]}", role, paths, settings.line_fill, error))
    return tuple(shapes)

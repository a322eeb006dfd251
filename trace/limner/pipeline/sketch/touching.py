"""What the illustrator corrects on her sketch: from tables in fractions of the page to each stage.

Touches hold in the order in which they stand. Ink is drawn and rubbed out before anything else looks at it;
bridges are refused and areas parted as they are found; lines are pulled over, and corners asked for, on the
finished map. So what is drawn, rubbed out, parted or opened after a pull is done where the pull has it come
to lie on the points that were given. A touch on the side of a figure that mirroring replaces counts as one on
the side that is kept: it is reflected first.

Limits: a pull takes hold of the line that is nearest to it in the end, drawn later or not. Widths are those
of the drawing as it would be without touches.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from limner.errors import InputError, LimnerError
from limner.geometry.rings import inside_rings
from limner.model.arrays import Floats
from limner.model.raster import ScaledInk, ScaledPage
from limner.model.regionmap import RegionMap
from limner.model.touch import InkTouch, Pull
from limner.pipeline.processes.progress import Stopwatch
from limner.pipeline.sketch.axes.figure import Figure, Mirrored
from limner.pipeline.sketch.axes.mirroring import complete_figure
from limner.pipeline.sketch.memory import Memory
from limner.pipeline.sketch.placing import PageFrame
from limner.pipeline.sketch.settings import TraceSettings

if TYPE_CHECKING:
    from limner.job import TouchTable

__all__ = ["Divisions", "TouchedInk", "divisions", "moved", "points_of", "touched_ink"]

# As the last touch is changed or taken back, the ink before it is wanted again.
_TOUCHED = 2

# Samples of a parting line lie this far apart, in line widths: finer than it is fitted.
_SPACING_LINE_WIDTHS = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class TouchedInk:
    """Ink with what was drawn and without what was rubbed out.

    Parameters
    ----------
    ink : ScaledInk
        The ink.
    changed_mm2 : dict of int to float
        How much ink each touch has added or taken, by its number, at the scale of the drawing.
    taken_back : dict of int to int
        Touches that rub out just what another one drew, and which that is: nothing is done for either.
    """

    ink: ScaledInk
    changed_mm2: dict[int, float] = field(default_factory=dict)
    taken_back: dict[int, int] = field(default_factory=dict)


def touched_ink(
    page: ScaledPage,
    ink: ScaledInk,
    settings: TraceSettings,
    memory: Memory,
    watch: Stopwatch,
) -> TouchedInk:
    """The ink with what was drawn and without what was rubbed out.

    Parameters
    ----------
    page, ink : ScaledPage, ScaledInk
        The page, and the ink on it as it was found.
    settings : TraceSettings
        Of them, the touches; the axes and the width of the drawing tell where and how large they are.
    memory : Memory
        What the first touches gave before.
    watch : Stopwatch
        Measures the stage.

    Raises
    ------
    InputError
        A line is wider than half the page.
    """
    tables = [(n, table) for n, table in enumerate(settings.touches) if table.kind in ("draw", "rub")]
    if not tables:
        return TouchedInk(ink)
    frame, factor = Figure(page, ink).frame, 1.0
    mirrored: tuple[Mirrored, ...] = ()
    if settings.mirror != "off" or settings.drawing_width_mm is not None:
        figure = complete_figure(page, ink, settings, memory, watch)
        factor = figure.page.mm_per_px / page.mm_per_px
        back = (-figure.origin_mm[0] / factor, -figure.origin_mm[1] / factor)
        mirrored = tuple(one.moved(back, 1.0 / factor) for one in figure.mirrored)
    with watch.stage("touches"):
        touches: list[InkTouch] = []
        for number, table in tables:
            points = points_of(table, frame, mirrored)
            if _pulls_before(settings, number):
                so_far = complete_figure(page, _inked(ink, touches, memory).ink, settings, memory, watch)
                points = (_before_pulls(points * factor, settings, number, so_far, memory)) / factor
            touches.append(InkTouch(table.kind == "draw", points, _width_mm(table, number, frame, factor)))
        done = _inked(ink, touches, memory)
    return TouchedInk(
        done.ink,
        {tables[place][0]: mm2 * factor**2 for place, mm2 in done.changed_mm2.items()},
        {tables[rub][0]: tables[draw][0] for rub, draw in done.taken_back.items()},
    )


def _inked(ink: ScaledInk, touches: Sequence[InkTouch], memory: Memory) -> TouchedInk:
    """The ink after touches, which are numbered by their places."""
    from limner.touches import taken_back

    undone = taken_back(touches, ink.line_width_mm)
    changed: dict[int, float] = {}
    for place, touch in enumerate(touches):
        if place in undone or place in undone.values():
            continue
        sources = (ink, touch.adds, touch.points.tobytes(), touch.width_mm)
        step = partial(_touched, ink, touch)
        ink, changed[place] = memory.given("touch", sources, step, _TOUCHED)
    return TouchedInk(ink, changed, undone)


def _touched(ink: ScaledInk, touch: InkTouch) -> tuple[ScaledInk, float]:
    """The ink after a touch, and by how much of it there is more or less, square millimetres."""
    from limner.regions import build_graph
    from limner.touches import touch_ink

    after = touch_ink(ink, touch, build_graph)
    return after, float(np.abs(after.coverage - ink.coverage).sum(dtype=np.float64)) * ink.mm_per_px**2


def _pulls_before(settings: TraceSettings, number: int) -> "list[tuple[int, TouchTable]]":
    """Pulls that stand before a touch, with their numbers."""
    return [(n, table) for n, table in enumerate(settings.touches[:number]) if table.kind == "pull"]


def _before_pulls(
    points: Floats, settings: TraceSettings, number: int, figure: Figure, memory: Memory
) -> Floats:
    """Where a line is to be drawn so that the pulls before it bring it to these points.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 2)
        In millimetres of the figure, from the page's corner.
    settings, number : TraceSettings, int
        The touches, and which of them it is.
    figure : Figure
        With all ink that was drawn before.
    memory : Memory
        What was found before.
    """
    from limner.touches import pulled_back, smooth_line

    origin = np.array(figure.origin_mm)
    line = smooth_line(points + origin, figure.ink.line_width_mm / 2.0)
    regions = memory.given("bare map", (figure,), partial(_bare_map, figure))
    pulls = _pulls_before(settings, number)
    try:
        back = pulled_back(regions, [_pull_of(table, figure) for _, table in pulls], line)
    except LimnerError as error:
        raise _of_touch(error, pulls[-1][0]) from error
    return points if np.array_equal(back, line) else back - origin


def _bare_map(figure: Figure) -> RegionMap:
    """The lines of a figure without its areas."""
    from limner.regions import RegionSettings, build_graph, divide_page

    graph = figure.graph or build_graph(figure.ink)
    divided = divide_page(figure.ink, graph, RegionSettings())
    return RegionMap(*divided.page_mm, divided.graph, (), (), divided.rings)


def _pull_of(table: "TouchTable", figure: Figure) -> Pull:
    (x0, y0), (x1, y1) = points_of(table, figure.frame, figure.mirrored).tolist()
    return Pull((x0, y0), (x1, y1), table.reach)


def _width_mm(table: "TouchTable", number: int, frame: PageFrame, factor: float) -> float | None:
    if table.width is None:
        return None
    width, height = frame[2] * factor, frame[3] * factor
    if table.width > min(width, height) / 2.0:
        raise InputError(
            f"the width of {table.width:g} mm is more than half of the page, which is {width:.0f} x "
            f"{height:.0f} mm: give a narrower line.",
            about=("touch", number, "width"),
        )
    return table.width / factor


@dataclass(frozen=True, slots=True, eq=False)
class Divisions:
    """What touches say of how a drawing is divided into areas.

    Parameters
    ----------
    lines : tuple of ndarray of float64, shape (n, 2)
        Lines that part areas: smooth polylines in millimetres of the drawing.
    opened : tuple of ndarray of float64, shape (2,)
        Points whose nearest bridge is not made.
    tables : tuple of (int, TouchTable)
        These touches, with the number of each.
    """

    lines: tuple[Floats, ...] = ()
    opened: tuple[Floats, ...] = ()
    tables: "tuple[tuple[int, TouchTable], ...]" = ()

    @property
    def sources(self) -> tuple[object, ...]:
        """What tells one such value from another."""
        lines = tuple(line.tobytes() for line in (*self.lines, *self.opened))
        return tuple(table for _, table in self.tables), lines

    @contextmanager
    def blamed(self) -> Iterator[None]:
        """What is raised within about the n-th line or point is about its touch."""
        try:
            yield
        except LimnerError as error:
            match error.about:
                case ("part" | "open" as kind, int(count)):
                    numbers = [number for number, table in self.tables if table.kind == kind]
                    raise _of_touch(error, numbers[count]) from error
            raise


def divisions(settings: TraceSettings, figure: Figure, memory: Memory) -> Divisions:
    """What part the areas of a figure, and which of its gaps stay open."""
    tables = tuple((n, table) for n, table in enumerate(settings.touches) if table.kind in ("part", "open"))
    if not tables:
        return Divisions()
    from limner.touches import smooth_line

    spacing = _SPACING_LINE_WIDTHS * figure.ink.line_width_mm
    points = []
    for number, table in tables:
        line = points_of(table, figure.frame, figure.mirrored)
        if _pulls_before(settings, number):
            origin = np.array(figure.origin_mm)
            line = _before_pulls(line - origin, settings, number, figure, memory) + origin
        points.append((table.kind, line))
    return Divisions(
        tuple(smooth_line(line, spacing) for kind, line in points if kind == "part"),
        tuple(line[0] for kind, line in points if kind == "open"),
        tables,
    )


def moved(
    regions: RegionMap, settings: TraceSettings, figure: Figure, memory: Memory, watch: Stopwatch
) -> RegionMap:
    """The map with its lines pulled over, and corners made and taken, in the order of the touches.

    Raises
    ------
    GeometryError
        There is no line at a touch, or a pull is too long for its reach; the error is about its table.
    """
    kinds = ("pull", "corner", "smooth")
    tables = [(n, table) for n, table in enumerate(settings.touches) if table.kind in kinds]
    if not tables:
        return regions
    with watch.stage("touches"):
        for number, table in tables:
            step = partial(_moved, regions, figure, number, table)
            regions = memory.given("moved", (regions, figure, table), step, _TOUCHED)
    return regions


def _moved(regions: RegionMap, figure: Figure, number: int, table: "TouchTable") -> RegionMap:
    from limner.touches import mark_corner, pull_map

    try:
        if table.kind == "pull":
            return pull_map(regions, _pull_of(table, figure))
        ((x, y),) = points_of(table, figure.frame, figure.mirrored).tolist()
        return mark_corner(regions, (x, y), sharp=table.kind == "corner")
    except LimnerError as error:
        raise _of_touch(error, number) from error


def _of_touch(error: LimnerError, number: int) -> LimnerError:
    return type(error)(f"this touch {error}", about=("touch", number))


def points_of(table: "TouchTable", frame: PageFrame, mirrored: Sequence[Mirrored]) -> Floats:
    """Points of a touch in millimetres, shape (n, 2), on the side that is kept."""
    written = np.array(getattr(table, table.kind), dtype=np.float64).reshape(-1, 2)
    points = np.array(frame[:2]) + written * frame[2:]
    for one in mirrored:
        from limner.symmetry import frame_of

        if one.within is not None and not inside_rings(points.mean(axis=0)[None], one.within).any():
            continue
        axis = frame_of(one.axis)
        if inside_rings(points.mean(axis=0)[None], one.as_drawn).any():
            continue
        if float(np.mean(axis.distance(points) < 0.0)) > 0.5:
            points = axis.reflect(points)
    return points

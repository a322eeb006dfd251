"""Area, zone and repeat tables, written in fractions of the page, as values in millimetres of the drawing."""

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from limner.geometry.cycles import cycle_points
from limner.model.drawing import Zone
from limner.model.motif import MotifPlace, Repeat
from limner.model.regionmap import RegionMap
from limner.pipeline.sketch.settings import TraceSettings
from limner.regions import AreaRule

if TYPE_CHECKING:
    from limner.colour import ColourSpec

__all__ = ["PageFrame", "area_rules", "repeat_values", "zone_values"]

PageFrame = tuple[float, float, float, float]
"""Left, top, width and height of the page in millimetres of the drawing."""


def _at(point: tuple[float, float], frame: PageFrame) -> tuple[float, float]:
    left, top, width, height = frame
    return left + point[0] * width, top + point[1] * height


def _screen(fill: "str | ColourSpec | None", screen_of: "Mapping[str | ColourSpec, str]") -> str | None:
    if fill is None or fill in screen_of:
        return None if fill is None else screen_of[fill]
    # Few sketches name a fill.
    from limner.colour import Palette, Press

    return Palette({}, Press()).of(fill, what="fill").screen


def area_rules(settings: TraceSettings, frame: PageFrame) -> tuple[AreaRule, ...]:
    """One rule for each point of each area table, in their order."""
    return tuple(
        AreaRule(
            at_mm=_at(point, frame),
            name=table.name or _shared_name(number, len(table.at)),
            fill=_screen(table.fill, settings.screen_of),
            order=table.order,
            smoothing_mm=table.smoothing,
            nodes=table.nodes,
            skip=table.skip,
            number=number,
            shown=partial(_as_written, frame=frame),
        )
        for number, table in enumerate(settings.areas)
        for point in table.at
    )


def _as_written(point_mm: tuple[float, float], frame: PageFrame) -> str:
    """A point as the tables have it: fractions of the page, to a ten-thousandth where it was worked out."""
    left, top, width, height = frame
    across, down = round((point_mm[0] - left) / width, 4), round((point_mm[1] - top) / height, 4)
    return f"[{across:g}, {down:g}]"


def _shared_name(number: int, points: int) -> str | None:
    """Several points of a table without a name still join their areas."""
    return f"joined-{number + 1}" if points > 1 else None


def zone_values(settings: TraceSettings, regions: RegionMap, frame: PageFrame) -> tuple[Zone, ...]:
    """Zones in millimetres of the drawing."""
    if not settings.zones:
        return ()
    from limner.job import zone_value

    areas = {area.name: (cycle_points(regions.graph.edges, area.outline),) for area in regions.areas}
    left, top, width, height = frame
    zones = []
    for number, table in enumerate(settings.zones, start=1):
        name = f"zone {number}" if table.name is None else f'the zone "{table.name}"'
        zone = zone_value(table, width, height, folder=settings.folder, areas=areas, name=name)
        if table.area is None:
            shifted = tuple(ring + np.array([left, top]) for ring in zone.rings)
            zone = replace(zone, rings=shifted)
        zones.append(zone)
    return tuple(zones)


def repeat_values(settings: TraceSettings, frame: PageFrame) -> tuple[Repeat, ...]:
    """Motifs and their places in millimetres of the drawing."""
    return tuple(
        Repeat(
            np.array([_at(point, frame) for point in table.ring]),
            tuple(MotifPlace(_at(to.at, frame), to.turn, to.scale, to.flip) for to in table.to),
        )
        for table in settings.repeats
    )

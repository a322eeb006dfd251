"""What the user decides about one sketch."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Literal

# The models of a job take a fifth of a second to import, and most sketches come without.
if TYPE_CHECKING:
    from limner.colour import ColourSpec
    from limner.job import AreaTable, MirrorTable, RepeatTable, TouchTable, ZoneTable

__all__ = ["CURVES_ALONE", "TraceSettings"]

CURVES_ALONE = ("lines", "nodes", "repeats", "smoothing_mm")
"""Settings that change the curves of a sketch, but not its map (`limner.pipeline.sketch.mapping`)."""


@dataclass(frozen=True, slots=True)
class TraceSettings:
    """Everything that the user decides about one sketch.

    Parameters
    ----------
    width_mm : float or None
        True width of the whole page (the photograph, or the paper once straightened).
    drawing_width_mm : float or None
        True width of the drawn part instead (of the completed figure, where it is mirrored); it wins over
        every other scale.
    smoothing_mm : float or None
        Largest distance between curve and drawn line; None: a share of the line's width.
    nodes : int or None
        Budget of nodes for the whole drawing.
    mirror : {"off", "auto"} or tuple of MirrorTable
        Whether to complete or even out the drawing about an axis, found or set by hand; several tables
        where it holds several figures.
    paper : str
        "auto", "none" or an ISO 216 size.
    lines : {"drawn", "even", "tapered", "none"}
        How the ink is drawn.
    bridges : {"inked", "open"}
        Whether a gap within one line is closed in ink, too, or in fills alone.
    areas : tuple of AreaTable
        Names, colours and more for single areas.
    zones : tuple of ZoneTable
        Parts of the page with their own smoothing or budget.
    touches : tuple of TouchTable
        Corrections drawn on the sketch.
    repeats : tuple of RepeatTable
        Motifs that are placed again.
    folder : Path
        What the file names in `zones` are relative to.
    screen_of : mapping of str or ColourSpec to str
        Screen colour "#rrggbb" of each colour that `areas` name; others are looked up among the built-in
        ones.
    """

    width_mm: float | None = None
    drawing_width_mm: float | None = None
    smoothing_mm: float | None = None
    nodes: int | None = None
    mirror: Literal["off", "auto"] | tuple[MirrorTable, ...] = "off"
    paper: str = "auto"
    lines: Literal["drawn", "even", "tapered", "none"] = "drawn"
    bridges: Literal["inked", "open"] = "inked"
    areas: tuple[AreaTable, ...] = ()
    zones: tuple[ZoneTable, ...] = ()
    touches: tuple[TouchTable, ...] = ()
    repeats: tuple[RepeatTable, ...] = ()
    folder: Path = Path()
    screen_of: Mapping[str | ColourSpec, str] = field(default_factory=dict)

    @property
    def finest_mm(self) -> float | None:
        """The finest smoothing that is asked for anywhere; None where none is."""
        asked = [self.smoothing_mm]
        asked += [table.smoothing for table in self.areas] + [table.smoothing for table in self.zones]
        return min((smoothing for smoothing in asked if smoothing is not None), default=None)

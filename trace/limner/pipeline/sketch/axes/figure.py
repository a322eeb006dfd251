"""The figure that is traced: the drawn ink, completed about its axes where that was asked for."""

from dataclasses import dataclass, replace

import numpy as np

from limner.model.arrays import Floats
from limner.model.geometry import Axis
from limner.model.raster import ScaledInk, ScaledPage
from limner.model.regionmap import LineGraph
from limner.pipeline.sketch.placing import PageFrame

__all__ = ["Figure", "Mirrored"]


@dataclass(frozen=True, slots=True, eq=False)
class Mirrored:
    """One figure that is mirrored.

    Parameters
    ----------
    axis : Axis
        Its axis in millimetres of the ink's raster.
    within : tuple of ndarray, shape (n, 2), or None
        Closed rings in millimetres around the figure and its reflection; None: all of the drawing.
    one_sided : tuple of str
        Names of areas that stay as they are drawn.
    as_drawn : tuple of ndarray, shape (n, 2)
        Outlines of these areas in millimetres: closed rings.
    """

    axis: Axis
    within: tuple[Floats, ...] | None = None
    one_sided: tuple[str, ...] = ()
    as_drawn: tuple[Floats, ...] = ()

    def moved(self, by: tuple[float, float], factor: float) -> "Mirrored":
        """The same on a page that was enlarged and then grown at the left and at the top."""
        axis = replace(self.axis, x_mm=self.axis.x_mm * factor + by[0], y_mm=self.axis.y_mm * factor + by[1])
        within = None if self.within is None else _moved(self.within, by, factor)
        return replace(self, axis=axis, within=within, as_drawn=_moved(self.as_drawn, by, factor))


def _moved(rings: tuple[Floats, ...], by: tuple[float, float], factor: float) -> tuple[Floats, ...]:
    return tuple(ring * factor + np.array(by) for ring in rings)


@dataclass(frozen=True, slots=True, eq=False)
class Figure:
    """Ink to be traced.

    Parameters
    ----------
    page : ScaledPage
        The page.
    ink : ScaledInk
        Its ink, or that of the completed figures on a larger page.
    mirrored : tuple of Mirrored
        What is to be symmetric.
    origin_mm : tuple of float
        Where the page's top left corner lies on the ink's raster.
    graph : LineGraph or None
        Centrelines of the ink, where they are known already.
    """

    page: ScaledPage
    ink: ScaledInk
    mirrored: tuple[Mirrored, ...] = ()
    origin_mm: tuple[float, float] = (0.0, 0.0)
    graph: LineGraph | None = None

    @property
    def frame(self) -> PageFrame:
        """Left, top, width and height of the page on the ink's raster."""
        height, width = self.page.grey.shape
        return (*self.origin_mm, width * self.page.mm_per_px, height * self.page.mm_per_px)

"""The first two stages: from a decoded file to the page and the ink on it."""

from dataclasses import dataclass

from limner.capture import CaptureSettings, Picture, flatten_page, photo_of
from limner.ink import (
    Finest,
    InkSettings,
    LineWidths,
    early_reduction,
    extract_ink,
    line_widths,
    survey_ink,
)
from limner.model.arrays import Singles
from limner.model.raster import ScaledInk, ScaledPage
from limner.pipeline.processes.progress import Stopwatch
from limner.pipeline.sketch.scale import ASSUMED_DRAWING_WIDTH_MM, set_scale
from limner.pipeline.sketch.settings import TraceSettings

__all__ = ["Reading", "read_page"]


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """A page that was read.

    Parameters
    ----------
    page : ScaledPage
        The page.
    ink : ScaledInk
        The ink on it, at the page's scale.
    settings : TraceSettings
        As which it was read.
    looks : tuple of (LineWidths, float or None)
        Widths of the lines as they were seen each time, and the scale of the page then, in millimetres per
        pixel.
    """

    page: ScaledPage
    ink: ScaledInk
    settings: TraceSettings
    looks: tuple[tuple[LineWidths, float | None], ...]

    @property
    def following_mm(self) -> float:
        """A smoothing from which on the page is read the same whatever is asked for."""
        return max(_finest(self.settings, mm_per_px).following_mm(widths) for widths, mm_per_px in self.looks)

    def serves(self, settings: TraceSettings) -> bool:
        """Whether the page would be read the same with other settings."""
        if (settings.paper, settings.width_mm) != (self.settings.paper, self.settings.width_mm):
            return False
        return all(
            widths.read_alike(_finest(self.settings, mm_per_px), _finest(settings, mm_per_px))
            for widths, mm_per_px in self.looks
        )


def read_page(picture: Picture, settings: TraceSettings, watch: Stopwatch) -> Reading:
    """The page and the ink on it, at the page's scale.

    Parameters
    ----------
    picture : Picture
        The photograph or scan.
    settings : TraceSettings
        What is known of the page.
    watch : Stopwatch
        Measures the stages.

    Returns
    -------
    Reading

    Raises
    ------
    InputError
        The picture is damaged, or nothing is drawn on it.
    """
    looks: list[tuple[LineWidths, float | None]] = []

    def reduction_of(small: Singles, step: float, shape: tuple[int, int], mm_per_px: float | None) -> int:
        widths = line_widths(small).scaled(step)
        looks.append((widths, mm_per_px))
        return early_reduction(widths, shape, _finest(settings, mm_per_px))

    with watch.stage("capture"):
        asked = CaptureSettings(paper=settings.paper, width_mm=settings.width_mm)
        page = flatten_page(photo_of(picture), asked, reduction_of)
    with watch.stage("ink"):
        survey = survey_ink(page, InkSettings())
        looks.append((survey.widths, page.mm_per_px))
        ink = extract_ink(page, InkSettings(), _finest(settings, page.mm_per_px), survey)
        return Reading(*set_scale(page, ink), settings, tuple(looks))


def _finest(settings: TraceSettings, mm_per_px: float | None) -> Finest:
    """The finest smoothing that the settings ask for anywhere, on a page of that scale."""
    finest = settings.finest_mm
    if settings.drawing_width_mm is not None:
        return Finest(finest, None, settings.drawing_width_mm)
    return Finest(finest, mm_per_px, ASSUMED_DRAWING_WIDTH_MM)

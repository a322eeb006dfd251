"""The first two stages: from a decoded file to the page and the ink on it."""

from limner.capture import CaptureSettings, Picture, flatten_page, photo_of
from limner.ink import Finest, InkSettings, early_reduction, extract_ink
from limner.model.arrays import Singles
from limner.model.raster import ScaledInk, ScaledPage
from limner.pipeline.processes.progress import Stopwatch
from limner.pipeline.sketch.scale import ASSUMED_DRAWING_WIDTH_MM, set_scale
from limner.pipeline.sketch.settings import TraceSettings

__all__ = ["page_and_ink"]


def page_and_ink(picture: Picture, settings: TraceSettings, watch: Stopwatch) -> tuple[ScaledPage, ScaledInk]:
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
    ScaledPage, ScaledInk

    Raises
    ------
    InputError
        The picture is damaged, or nothing is drawn on it.
    """

    def reduction_of(small: Singles, step: float, shape: tuple[int, int], mm_per_px: float | None) -> int:
        return early_reduction(small, step, shape, _finest(settings, mm_per_px))

    with watch.stage("capture"):
        asked = CaptureSettings(paper=settings.paper, width_mm=settings.width_mm)
        page = flatten_page(photo_of(picture), asked, reduction_of)
    with watch.stage("ink"):
        return set_scale(page, extract_ink(page, InkSettings(), _finest(settings, page.mm_per_px)))


def _finest(settings: TraceSettings, mm_per_px: float | None) -> Finest:
    """The finest smoothing that the settings ask for anywhere, on a page of that scale."""
    asked = [settings.smoothing_mm]
    asked += [table.smoothing for table in settings.areas] + [table.smoothing for table in settings.zones]
    finest = min((smoothing for smoothing in asked if smoothing is not None), default=None)
    if settings.drawing_width_mm is not None:
        return Finest(finest, None, settings.drawing_width_mm)
    return Finest(finest, mm_per_px, ASSUMED_DRAWING_WIDTH_MM)

"""The first two stages: from a decoded file to the page and the ink on it."""

from limner.capture import CaptureSettings, Picture, flatten_page, photo_of
from limner.ink import InkSettings, early_reduction, extract_ink
from limner.model.raster import ScaledInk, ScaledPage
from limner.pipeline.processes.progress import Stopwatch
from limner.pipeline.sketch.scale import set_scale
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
    with watch.stage("capture"):
        asked = CaptureSettings(paper=settings.paper, width_mm=settings.width_mm)
        page = flatten_page(photo_of(picture), asked, early_reduction)
    with watch.stage("ink"):
        return set_scale(page, extract_ink(page, InkSettings()))

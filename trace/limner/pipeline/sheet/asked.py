"""How a job wants its sketches traced."""

from limner.colour import Palette
from limner.job import Job, StickerTable
from limner.pipeline.sketch.settings import TraceSettings

__all__ = ["trace_settings"]


def trace_settings(job: Job, sticker: StickerTable, palette: Palette) -> TraceSettings:
    """How a sticker is traced: as the one that it is like, where only sizes and colours differ.

    Parameters
    ----------
    job : Job
        The job.
    sticker : StickerTable
        One of its stickers.
    palette : Palette
        Its colours.
    """
    model = job.model_of(sticker)
    if _traced_of(model) == _traced_of(sticker):
        sticker = model
    fills = [area.fill for area in sticker.area if area.fill is not None]
    return TraceSettings(
        drawing_width_mm=sticker.width,
        smoothing_mm=sticker.smoothing,
        nodes=sticker.nodes,
        mirror=sticker.mirror or "off",
        paper=sticker.paper,
        lines=sticker.lines,
        bridges=sticker.bridges,
        areas=tuple(sticker.area),
        zones=tuple(sticker.zone),
        touches=tuple(sticker.touch),
        repeats=tuple(sticker.repeat),
        folder=job.folder,
        screen_of={fill: palette.of(fill).screen for fill in fills},
    )


def _traced_of(sticker: StickerTable) -> tuple[object, ...]:
    """All that a drawing depends on but its size and its colours."""
    areas = [area.model_dump(exclude={"fill"}) for area in sticker.area]
    traced = ("sketch", "smoothing", "nodes", "mirror", "paper", "lines", "bridges")
    keys = (*traced, "zone", "touch", "repeat")
    return (areas, *(getattr(sticker, key) for key in keys))

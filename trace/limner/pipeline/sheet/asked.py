"""How a job wants its sketches traced."""

from collections.abc import Sequence

from limner.colour import TINT_INKS, Palette
from limner.job import AreaTable, Job, StickerTable
from limner.pipeline.sketch.settings import TraceSettings

__all__ = ["trace_settings"]


def trace_settings(job: Job, sticker: StickerTable, palette: Palette) -> TraceSettings:
    """How a sticker is traced: as the one that it is like, where only sizes and colours differ.

    Fills stand for themselves only where limner's own tints, which keep apart from one another, look at them:
    on the sheet each area gets its colour by the number of its table, so that another colour asks for no
    other trace.

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
    areas = _unpainted(sticker.area, palette)
    fills = [area.fill for area in areas if area.fill is not None]
    return TraceSettings(
        drawing_width_mm=sticker.width,
        smoothing_mm=sticker.smoothing,
        nodes=sticker.nodes,
        mirror=sticker.mirror or "off",
        paper=sticker.paper,
        lines=sticker.lines,
        bridges=sticker.bridges,
        areas=areas,
        zones=tuple(sticker.zone),
        touches=tuple(sticker.touch),
        repeats=tuple(sticker.repeat),
        folder=job.folder,
        screen_of={fill: str(fill) for fill in fills},
    )


def _unpainted(areas: Sequence[AreaTable], palette: Palette) -> tuple[AreaTable, ...]:
    """Areas with marks for fills: one for each colour, so that tables still contradict each other."""
    marks: dict[str, str] = {}
    found = []
    for area in areas:
        if area.fill is not None:
            screen = palette.of(area.fill).screen
            mark = screen if screen in TINT_INKS else marks.setdefault(screen, f"#{len(marks) + 1:06x}")
            area = area.model_copy(update={"fill": mark})
        found.append(area)
    return tuple(found)


def _traced_of(sticker: StickerTable) -> tuple[object, ...]:
    """All that a drawing depends on but its size and its colours."""
    areas = [area.model_dump(exclude={"fill"}) for area in sticker.area]
    traced = ("sketch", "smoothing", "nodes", "mirror", "paper", "lines", "bridges")
    keys = (*traced, "zone", "touch", "repeat")
    return (areas, *(getattr(sticker, key) for key in keys))

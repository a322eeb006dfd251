"""The files of one traced sketch, as bytes."""

import json
from collections.abc import Callable, Sequence
from functools import partial

from limner.capture import shown
from limner.output import drawing_svg, trace_report
from limner.pipeline.sketch.trace import TraceResult

__all__ = ["trace_files"]


def trace_files(
    result: TraceResult, sketch: str, kinds: Sequence[str], touch_lines: Sequence[int | None] = ()
) -> dict[str, bytes]:
    """Make the files asked for.

    Parameters
    ----------
    result : TraceResult
        What was traced.
    sketch : str
        Name of the sketch, for titles and captions.
    kinds : sequence of {"svg", "report", "proof", "areas"}
        Which files to make.
    touch_lines : sequence of int or None
        The line on which each touch stands in its file, where that is known.

    Returns
    -------
    dict of str to bytes
        One entry per kind.
    """
    makers: dict[str, Callable[[TraceResult, str], bytes]] = {
        "svg": _svg,
        "report": partial(_report, touch_lines=touch_lines),
        "proof": partial(_proof, touch_lines=touch_lines),
        "areas": _areas,
    }
    return {kind: makers[kind](result, sketch) for kind in kinds}


def _svg(result: TraceResult, sketch: str) -> bytes:
    return drawing_svg(result.drawing, sketch)


def _report(result: TraceResult, sketch: str, touch_lines: Sequence[int | None]) -> bytes:
    report = trace_report(
        result.drawing,
        shown(sketch),
        result.page.mm_per_photo_px,
        result.seconds,
        result.touches,
        touch_lines,
    )
    return (json.dumps(report, indent=2, ensure_ascii=False) + "\n").encode("utf-8")


def _areas(result: TraceResult, sketch: str) -> bytes:
    """Areas as the map has them, each in the colour that it has in the drawing."""
    from limner.output import areas_file

    page, areas = result.page, result.regions.areas
    height, width = page.grey.shape
    frame = (*result.page_origin_mm, width * page.mm_per_px, height * page.mm_per_px)
    filled = {shape.name: shape.fill for shape in result.drawing.fills}
    fills = [area.fill or filled.get(area.name, "#ffffff") for area in areas]
    return areas_file(areas, fills, frame, shown(sketch))


def _proof(result: TraceResult, sketch: str, touch_lines: Sequence[int | None]) -> bytes:
    from limner.output import trace_proof

    drawing = result.drawing
    # Names of files may hold what no text may.
    caption = (
        f"{shown(sketch)}: {drawing.node_count} nodes, largest error {drawing.error_mm:.3f} mm, "
        f"smoothing {result.smoothing_mm:.3f} mm, line width {drawing.line_width_mm:.2f} mm"
    )
    bridges = [edge.points for edge in result.regions.graph.edges if edge.kind == "bridge"]
    return trace_proof(
        result.page,
        drawing,
        bridges=bridges,
        page_origin_mm=result.page_origin_mm,
        caption=caption,
        touches=result.touches,
        touch_lines=touch_lines,
    )

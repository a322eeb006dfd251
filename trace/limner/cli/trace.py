"""`limner trace`: from the arguments to the files and the summary."""

import argparse
import gc
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from limner.cli.many import is_many, run_many
from limner.cli.terminal import StageDisplay, note, say
from limner.errors import InputError, LimnerError

__all__ = ["run_trace"]

# New objects between two searches for unreachable cycles: a trace makes many values and hardly any cycles.
_COLLECT_AFTER = 100_000

_MIRROR = ("off", "auto")
_LINES = ("drawn", "even", "tapered", "none")
_BRIDGES = ("inked", "open")


def run_trace(arguments: argparse.Namespace) -> int:
    """Trace one sketch, or several, and write what was asked for.

    Parameters
    ----------
    arguments : argparse.Namespace
        As the parser in `limner.cli.main` makes them.

    Returns
    -------
    int
        Exit code.
    """
    # The matrices of a drawing are small: a second thread would wait for them in a busy loop, and cost a
    # third of a second of computing time. Read when the library is loaded.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    settings = _settings(arguments)
    if is_many(arguments.sketch):
        return run_many(arguments, settings, _touch_lines(arguments.zones))
    before = gc.get_threshold()
    gc.set_threshold(_COLLECT_AFTER, *before[1:])
    try:
        return _run_one(arguments, settings)
    finally:
        gc.set_threshold(*before)


def _run_one(arguments: argparse.Namespace, settings: Any) -> int:
    sketch = Path(arguments.sketch[0])
    targets = _targets(arguments, sketch)

    from limner.pipeline import STAGES, Stopwatch, load_ahead, trace

    display = StageDisplay()
    load_ahead(*STAGES, "limner.pipeline.sketch.files", "limner.output.files")
    with _where_in(arguments.zones):
        result = trace(sketch, settings, display)

    from limner.output import write_whole
    from limner.pipeline import trace_files

    if not result.page.scale_from:
        note("no scale found: the drawn part is taken as 100 mm wide; --width or --paper sets it.")
    watch = Stopwatch(display)
    with watch.stage("output"):
        contents = trace_files(result, sketch.name, tuple(targets), _touch_lines(arguments.zones))
        write_whole({targets[kind]: data for kind, data in contents.items()})
    _summary(sketch, targets["svg"], result)
    _note_coarse_shapes(result.drawing)
    return 0


def _note_coarse_shapes(drawing: Any) -> None:
    """Say where the drawing is spoilt: a curve lies more than half a line beside what was drawn."""
    from limner.geometry.cubics import bounds

    coarse = [s for s in (*drawing.lines, *drawing.fills) if s.error_mm > 0.5 * drawing.line_width_mm]
    if not coarse:
        return
    worst = max(coarse, key=lambda shape: shape.error_mm)
    left, top, right, bottom = bounds(worst.paths[0])
    others = f" and {_plural(len(coarse) - 1, 'other')}" if len(coarse) > 1 else ""
    note(
        f"too smooth for lines {drawing.line_width_mm:.2f} mm wide: {worst.name}{others} up to "
        f"{worst.error_mm:.2f} mm beside what was drawn (its middle {(left + right) / 2:.0f} mm from the "
        f"left, {(top + bottom) / 2:.0f} mm from the top); lower the smoothing or raise the budget of nodes."
    )


@contextmanager
def _where_in(zones: str | None) -> Iterator[None]:
    """Put file and line before what is said about a table of the file that `--zones` names."""
    try:
        yield
    except LimnerError as error:
        if zones is None or not error.about:
            raise
        from limner.job import load_zones

        raise error.located(load_zones(zones).where) from error


def _touch_lines(zones: str | None) -> tuple[int | None, ...]:
    """The line of each touch in the file that `--zones` names."""
    if zones is None:
        return ()
    from limner.job import load_zones

    tables = load_zones(zones)
    return tuple(tables.line_of(("touch", number)) for number in range(len(tables.touches)))


def _settings(arguments: argparse.Namespace) -> Any:
    from limner.pipeline import TraceSettings

    tables = _tables(arguments.zones)
    asked = _choice(arguments.mirror, "--mirror", _MIRROR)
    return TraceSettings(
        width_mm=_positive(arguments.width, "--width"),
        smoothing_mm=_positive(arguments.smoothing, "--smoothing"),
        nodes=_count(arguments.nodes, "--nodes"),
        mirror=tables.pop("mirror", None) or asked,
        paper=_paper(arguments.paper),
        lines=_choice(arguments.lines, "--lines", _LINES),
        bridges=_choice(arguments.bridges, "--bridges", _BRIDGES),
        **tables,
    )


def _tables(path: str | None) -> dict[str, Any]:
    """Areas, zones and axis of the file that `--zones` names; a `[mirror]` table there asks for mirroring."""
    if path is None:
        return {}
    from limner.job import load_zones

    tables = load_zones(path)
    return {
        "areas": tables.areas,
        "zones": tables.zones,
        "touches": tables.touches,
        "repeats": tables.repeats,
        "mirror": tables.mirror,
        "folder": tables.path.parent,
    }


def _positive(text: str | None, option: str) -> float | None:
    from limner.geometry.lengths import parse_length

    if text is None:
        return None
    value = parse_length(text, option)
    if value <= 0:
        raise InputError(f'{option} "{text}" must be more than nothing: give a length such as "0.2 mm".')
    return value


def _count(text: str | None, option: str) -> int | None:
    if text is None:
        return None
    if not text.isdecimal() or int(text) == 0:
        raise InputError(f'{option} "{text}" is not a number of nodes: give a whole number such as 200.')
    return int(text)


def _choice(text: str, option: str, choices: tuple[str, ...]) -> Any:
    if text not in choices:
        raise InputError(
            f'{option} "{text}" is not known: choose {", ".join(choices[:-1])} or {choices[-1]}.'
        )
    return text


def _paper(text: str) -> str:
    from limner.geometry.lengths import ISO_216_MM, paper_choice

    choice = paper_choice(text)
    if choice is None:
        raise InputError(
            f'--paper "{text}" is not known: choose auto, none, or one of {", ".join(ISO_216_MM)}.'
        )
    return choice


def _targets(arguments: argparse.Namespace, sketch: Path) -> dict[str, Path]:
    """Where each kind of file goes; none may be the sketch itself or another output."""
    asked = {
        "svg": arguments.output or sketch.with_suffix(".svg"),
        "report": arguments.report,
        "proof": arguments.proof,
        "areas": arguments.areas,
    }
    targets = {kind: Path(path) for kind, path in asked.items() if path is not None}
    for path in targets.values():
        if path.resolve() == sketch.resolve():
            raise InputError(
                f"{path} is the sketch itself, which is never written over: choose another output."
            )
    return targets


def _summary(sketch: Path, svg: Path, result: Any) -> None:
    from limner.capture import shown

    drawing, page = result.drawing, result.page
    areas = sum(shape.role == "area" for shape in drawing.fills)
    scale = page.scale_from or "assumed (drawn part 100 mm wide)"
    bridged = sum(edge.kind == "bridge" for edge in result.regions.graph.edges)
    say(shown(f"{sketch.name} -> {svg}"))
    say(
        f"  {_plural(areas, 'area')}, {_plural(len(drawing.lines), 'shape')} of ink, "
        f"{_plural(drawing.node_count, 'node')}, {_plural(bridged, 'gap')} bridged"
    )
    if areas == 0:
        say("  no closed area found: the lines and the outline are there, fills need lines that close")
    say(f"  largest error {drawing.error_mm:.3f} mm at a smoothing of {result.smoothing_mm:.3f} mm")
    if drawing.axis is not None:
        from limner.symmetry import kept_side

        axis = drawing.axis
        side = kept_side(axis)
        kept = f"; the {side} side is kept" if side else ""
        say(
            f"  mirrored about an axis at {axis.angle_deg:.1f} degrees "
            f"({axis.how}, score {axis.score:.2f}){kept}"
        )
    say(
        f"  line width {drawing.line_width_mm:.2f} mm; "
        f"page {drawing.width_mm:.1f} x {drawing.height_mm:.1f} mm; scale from: {scale}"
    )


def _plural(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"

"""`limner trace` with several sketches or a folder of them."""

import argparse
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from limner.cli.terminal import TaskDisplay, note, say
from limner.errors import InputError, OutputError

if TYPE_CHECKING:
    from limner.pipeline import Traced

__all__ = ["is_many", "run_many", "sketches_of"]

# A folder is searched for these; a sketch that is named is told by its content alone.
_PICTURES = {".bmp", ".gif", ".heic", ".heif", ".jpe", ".jpeg", ".jpg", ".png", ".tif", ".tiff", ".webp"}

_ENDINGS = {"svg": ".svg", "report": ".json", "proof": "-proof.png", "areas": ".toml"}

_EXAMPLE = "-o FOLDER"


def is_many(sketches: Sequence[str]) -> bool:
    """Whether these arguments ask for more than one sketch."""
    return len(sketches) > 1 or Path(sketches[0]).is_dir()


def run_many(arguments: argparse.Namespace, settings: Any, touch_lines: tuple[int | None, ...]) -> int:
    """Trace all sketches into a folder.

    Parameters
    ----------
    arguments : argparse.Namespace
        As the parser in `limner.cli.main` makes them.
    settings : TraceSettings
        The same for all.
    touch_lines : tuple of int or None
        The line on which each touch stands in its file.

    Returns
    -------
    int
        0 all done; 1 some could not be traced; 2 none could.
    """
    sketches = sketches_of(arguments.sketch)
    folders = _folders(arguments)
    targets = _targets(sketches, folders)

    from limner.capture import require_opencv, shown

    require_opencv()
    _make(folders.values())
    from limner.pipeline import SketchTask, work_through

    tasks = (SketchTask(path, settings, targets[path], touch_lines) for path in sketches)
    lines: dict[Path, str] = {}
    failed: dict[Path, str] = {}
    with TaskDisplay(len(sketches)) as display:
        for outcome in work_through(tasks):
            if outcome.error is None:
                lines[outcome.path] = _line(outcome, targets[outcome.path]["svg"])
            else:
                failed[outcome.path] = outcome.error
            display.done(shown(outcome.path.name), outcome.error)
    _summary(sketches, lines, failed)
    if not failed:
        return 0
    return 1 if lines else 2


def sketches_of(arguments: Sequence[str]) -> list[Path]:
    """Every sketch once, in the order of the arguments; those of a folder by name.

    Raises
    ------
    InputError
        A folder holds no picture, or cannot be read.
    """
    found: dict[Path, Path] = {}
    for argument in arguments:
        path = Path(argument)
        for sketch in _pictures(path) if path.is_dir() else [path]:
            found.setdefault(_real(sketch), sketch)
    return list(found.values())


def _real(path: Path) -> Path:
    try:
        return path.resolve()
    except (OSError, RuntimeError):  # links that lead in a circle
        return path.absolute()


def _pictures(folder: Path) -> list[Path]:
    try:
        names = sorted(path.name for path in folder.iterdir())
    except OSError as error:
        raise InputError(f'The folder "{folder}" may not be read: give yourself the right to.') from error
    pictures = [
        folder / name
        for name in names
        if not name.startswith(".")
        and Path(name).suffix.lower() in _PICTURES
        and not (folder / name).is_dir()
    ]
    if not pictures:
        raise InputError(f'The folder "{folder}" holds no picture: name a folder of sketches.')
    return pictures


def _folders(arguments: argparse.Namespace) -> dict[str, Path]:
    """Where each kind of file goes."""
    if arguments.output is None:
        raise InputError(f"Several sketches need a folder for their shapes: add {_EXAMPLE}.")
    asked = {
        "svg": arguments.output,
        "report": arguments.report,
        "proof": arguments.proof,
        "areas": arguments.areas,
    }
    folders = {kind: Path(name) for kind, name in asked.items() if name is not None}
    for folder in folders.values():
        if folder.exists() and not folder.is_dir():
            raise InputError(f'"{folder}" is not a folder: with several sketches, name folders to write to.')
    read = {_real(Path(name)) for name in arguments.sketch if Path(name).is_dir()}
    if "proof" in folders and _real(folders["proof"]) in read:
        raise InputError(
            f'Proofs in "{folders["proof"]}" would be taken for sketches by the next run: '
            "name another folder for them."
        )
    return folders


def _targets(sketches: Sequence[Path], folders: dict[str, Path]) -> dict[Path, dict[str, Path]]:
    """The files of each sketch; none may be a sketch."""
    from limner.output import unique_stems

    targets = {
        path: {kind: folder / f"{name}{_ENDINGS[kind]}" for kind, folder in folders.items()}
        for path, name in zip(sketches, unique_stems([path.stem for path in sketches]), strict=True)
    }
    read = {_real(path) for path in sketches}
    for files in targets.values():
        for target in files.values():
            if _real(target) in read:
                raise InputError(
                    f'"{target}" is one of the sketches, which are never written over: choose another folder.'
                )
    return targets


def _make(folders: Iterable[Path]) -> None:
    for folder in folders:
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except (OSError, ValueError) as error:
            raise OutputError(f'The folder "{folder}" cannot be made: choose another place.') from error


def _line(outcome: "Traced", target: Path) -> str:
    from limner.capture import shown

    drawing = outcome.drawing
    assert drawing is not None
    areas = sum(shape.role == "area" for shape in drawing.fills)
    return shown(f"{outcome.path.name} -> {target}: {areas} areas, {drawing.node_count} nodes")


def _summary(sketches: Sequence[Path], lines: dict[Path, str], failed: dict[Path, str]) -> None:
    for path in sketches:
        if path in lines:
            say(lines[path])
    say(f"{len(lines)} of {len(sketches)} sketches traced")
    for path in sketches:
        if path in failed:
            note(failed[path])

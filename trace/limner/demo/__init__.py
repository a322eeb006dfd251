"""The demo: a job with eight photographed sketches, to start from."""

from contextlib import suppress
from importlib import resources
from pathlib import Path

from limner.errors import OutputError
from limner.output import write_whole

__all__ = ["JOB_NAME", "demo_files", "write_demo"]

JOB_NAME = "tide-pool.toml"
"""The job file of the demo."""


def demo_files() -> dict[str, bytes]:
    """Names and contents of the demo's files: the job and the sketches that it names."""
    folder = resources.files(__name__)
    names = sorted(item.name for item in folder.iterdir() if item.name.endswith((".toml", ".jpg")))
    return {name: folder.joinpath(name).read_bytes() for name in names}


def write_demo(folder: Path) -> Path:
    """Write the demo into a folder, which is made where it does not exist.

    Parameters
    ----------
    folder : Path
        Where to; files that are already there are never overwritten.

    Returns
    -------
    Path
        The job file.

    Raises
    ------
    OutputError
        The folder cannot be made or written to, or holds a file of the demo's names.
    """
    files = {folder / name: data for name, data in demo_files().items()}
    taken = next((path for path in files if path.exists() or path.is_symlink()), None)
    if taken is not None:
        raise OutputError(f'"{taken}" is already there: choose a new folder, so that nothing is overwritten.')
    made = [place for place in (folder, *folder.parents) if not place.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        write_whole(files)
    except (OSError, ValueError) as error:
        _remove_empty(made)
        raise OutputError(f'The folder "{folder}" cannot be made: choose another place.') from error
    except OutputError:
        _remove_empty(made)
        raise
    return folder / JOB_NAME


def _remove_empty(folders: list[Path]) -> None:
    """Take back the folders that were made for nothing, innermost first."""
    with suppress(OSError, ValueError):
        for folder in folders:
            folder.rmdir()

"""A job file as text, and what that says as TOML.

Limits: a file of more than a megabyte is refused, as no job is that long.
"""

import tomllib
from pathlib import Path
from typing import Any

from limner.errors import InputError
from limner.job.pictures import is_picture
from limner.job.syntax import syntax_problem

__all__ = ["parsed", "read_text"]

_LARGEST_FILE_BYTES = 1_000_000

# Deeper nesting than any job has; keeps the parsers far from their recursion limits.
_DEEPEST = 20


def parsed(text: str, path: Path) -> dict[str, Any]:
    """What a text says as TOML.

    Raises
    ------
    InputError
        It is none; the sentence names the file and the line.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{path.name}, {syntax_problem(text, error)}") from None
    except (RecursionError, ValueError) as error:
        raise InputError(f"{path.name} is not a usable TOML file: {_first_line(error)}.") from None
    if _depth(data) > _DEEPEST:
        raise InputError(f"{path.name} nests its tables more than {_DEEPEST} deep: no job needs that.")
    return data


def read_text(path: Path) -> str:
    """The text of a job file.

    Raises
    ------
    InputError
        It cannot be read, or is no text.
    """
    try:
        if path.is_dir():
            raise InputError(f'"{path}" is a folder: name the job file in it.')
        if not path.is_file() and path.exists():
            raise InputError(f'"{path}" is not an ordinary file: name a job file (TOML).')
        if path.stat().st_size > _LARGEST_FILE_BYTES:
            if is_picture(path):
                raise InputError(_no_job(path, "a picture"))
            raise InputError(f'"{path}" is larger than a megabyte: that is no job file.')
        text = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        if is_picture(path):
            raise InputError(_no_job(path, "a picture")) from error
        raise InputError(f'"{path}" is not a text in UTF-8: save it as plain text.') from error
    except (OSError, ValueError) as error:
        missing = isinstance(error, FileNotFoundError)
        problem = "is not there: check its name" if missing else "cannot be read: check its name and rights"
        raise InputError(f'"{path}" {problem}.') from error
    if text.lstrip().startswith("<"):
        raise InputError(_no_job(path, "a drawing or a page of the web"))
    return text


def _no_job(path: Path, what: str) -> str:
    return (
        f'"{path}" is {what}, not a job: a job is a text that names its sketches (limner new FOLDER writes '
        "one), and limner trace takes a single sketch."
    )


def _first_line(error: Exception) -> str:
    return (str(error).splitlines() or ["unknown problem"])[0].rstrip(".")


def _depth(value: Any) -> int:
    level, depth = [value], 0
    while level and depth <= _DEEPEST:
        depth += 1
        level = [
            inner
            for outer in level
            if isinstance(outer, dict | list)
            for inner in (outer.values() if isinstance(outer, dict) else outer)
        ]
    return depth

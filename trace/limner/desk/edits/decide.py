"""A decision, made of one edit or more, on the text of a job."""

import re
import tomllib
from collections.abc import Sequence
from typing import Any

from limner.desk.edits import splice
from limner.desk.edits.edit import Edit, changed, resolved
from limner.desk.edits.inherited import own_edits
from limner.errors import InputError
from limner.job import KeyPath

__all__ = ["decide"]

_BARE_END = re.compile(r"(?<!\r)\n")


def decide(text: str, edits: Sequence[Edit]) -> str:
    """The text of a job after a decision.

    Parameters
    ----------
    text : str
        A valid TOML document.
    edits : sequence of Edit
        In the order in which they are made.

    Returns
    -------
    str
        A valid TOML document that says what was decided, and all else as before.

    Raises
    ------
    InputError
        A place is not there, or a value cannot be written.
    """
    # Where both kinds of line ends stand, each stays as it is.
    crlf = "\r\n" in text and not _BARE_END.search(text)
    text = text.replace("\r\n", "\n") if crlf else text
    data: dict[str, Any] = tomllib.loads(text)
    for edit in edits:
        for step, path in own_edits(edit, resolved(edit, data), data):
            data = changed(data, step, path)
            text = _spliced(text, step, path)
    try:
        said = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        said = {}
    if _bare(said) != _bare(data):
        raise InputError(
            "That cannot be changed here, as it is written unusually: change it in the job file."
        )
    return text.replace("\n", "\r\n") if crlf else text


def _spliced(text: str, edit: Edit, path: KeyPath) -> str:
    if edit.what == "set":
        return splice.set_to(text, path, edit.to)
    if edit.what == "add":
        return splice.added(text, path, edit.to, edit.at)
    return splice.unset(text, path)


def _bare(value: Any) -> Any:
    """Without empty tables and lists: a table whose last key has gone may go with it."""
    if isinstance(value, dict):
        inner = {key: _bare(item) for key, item in value.items()}
        return {key: item for key, item in inner.items() if item not in ({}, [])}
    return [_bare(item) for item in value] if isinstance(value, list) else value

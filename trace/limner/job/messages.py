"""One plain sentence for a mistake in a job file: the key, where it stands, and the mend."""

import difflib
import types
import typing
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from limner.job.lines import KeyPath, nearest_line
from limner.job.pictures import picture_size
from limner.job.values import FractionError, quoted

__all__ = ["at_line", "explain", "explained", "key_text"]


# Tables of which there are several: a path that ends with the number of one means the table itself.
_REPEATED = ("sticker", "lettering", "area", "zone", "touch", "repeat")


def explain(
    error: ValidationError,
    model: type[BaseModel],
    data: Any,
    lines: Mapping[KeyPath, int],
    folder: Path,
) -> str:
    """The gravest mistake, as a sentence that begins with "line N: ".

    Unknown keys go first, as a misspelt key is the reason why another one is missing; then by line.

    Parameters
    ----------
    error : ValidationError
        What pydantic found.
    model : type of BaseModel
        The model that was validated against.
    data : mapping
        The document.
    lines : mapping of KeyPath to int
        Lines of its keys.
    folder : Path
        What the file names in it are relative to.
    """
    found = error.errors(include_url=False)

    def rank(item: Any) -> tuple[bool, int]:
        return item["type"] != "extra_forbidden", nearest_line(lines, tuple(item["loc"])) or 0

    first = min(found, key=rank)
    return at_line(lines, tuple(first["loc"]), _sentence(dict(first), model, data, folder))


def explained(
    error: ValidationError, model: type[BaseModel], data: Any, folder: Path
) -> list[tuple[KeyPath, str]]:
    """Every mistake, as the path of its key and a sentence without a line; see `explain`."""
    found = error.errors(include_url=False)
    return [(tuple(item["loc"]), _sentence(dict(item), model, data, folder)) for item in found]


def at_line(lines: Mapping[KeyPath, int], path: KeyPath, sentence: str) -> str:
    """Put the line of `path` before a sentence."""
    line = nearest_line(lines, path)
    return f"line {line}: {sentence}" if line is not None else sentence


def key_text(path: KeyPath, data: Any) -> str:
    """A key and its table in words, such as: width of [[sticker]] "crab"."""
    table, key = _split(path)
    if not table:
        # The path of a table itself ends with its number.
        return _table_text(path, data) if isinstance(path[-1], int) else str(key)
    if isinstance(path[-1], int) and isinstance(path[-2], str) and path[-2] in _REPEATED:
        return _table_text(path, data)
    return f"{key} of {_table_text(table, data)}" if key is not None else _table_text(table, data)


def _sentence(item: dict[str, Any], model: type[BaseModel], data: Any, folder: Path) -> str:
    path: KeyPath = tuple(item["loc"])
    if item["type"] == "extra_forbidden":
        return _unknown_key(path, model, data)
    if item["type"] == "missing":
        table, key = _split(path)
        where = _table_text(table, data) if table else "the job"
        if path == ("sticker",):
            return "the job has no sticker: add a [[sticker]] table with a name, a sketch and a width."
        return f"{where} has no {key}: add it."
    if not path:
        return f"the file {_problem(item)}."
    error = item.get("ctx", {}).get("error")
    if isinstance(error, FractionError):
        return f"{key_text(path, data)} {_fraction_problem(error, path, data, folder)}."
    return f"{key_text(path, data)} {_problem(item)}."


def _fraction_problem(error: FractionError, path: KeyPath, data: Any, folder: Path) -> str:
    """With the size of the sketch, where the points lie on one that is there."""
    try:
        name = data["sticker"][path[1]]["sketch"]
        return error.sentence(quoted(name), picture_size(folder / name))
    except (KeyError, IndexError, TypeError, ValueError, OSError):
        return error.sentence()


def _problem(item: dict[str, Any]) -> str:
    if item["type"] == "value_error":
        return str(item["ctx"]["error"]).rstrip(".")
    if item["type"] == "literal_error":
        allowed = str(item["ctx"]["expected"]).replace("'", '"')
        return f"is {quoted(item['input'])}, but must be {allowed}"
    if item["type"] in ("model_type", "dict_type"):
        return "must be a table"
    return f"cannot be used: {str(item['msg']).rstrip('.')}"


def _unknown_key(path: KeyPath, model: type[BaseModel], data: Any) -> str:
    *parent, key = path
    known = list(_model_at(model, tuple(parent)).model_fields)
    near = difflib.get_close_matches(str(key).lower(), known, n=1, cutoff=0.5)
    hint = f'did you mean "{near[0]}"?' if near else f"it knows {', '.join(known)}."
    where = _table_text(tuple(parent), data) if parent else "a job"
    return f"{where} has no key {quoted(str(key))}; {hint}"


def _model_at(model: type[BaseModel], path: KeyPath) -> type[BaseModel]:
    for key in path:
        if isinstance(key, int):
            continue
        model = _inner_model(model.model_fields[key].annotation) or model
    return model


def _inner_model(annotation: Any) -> type[BaseModel] | None:
    """The model inside list[Model], Model | None and the like."""
    if isinstance(annotation, type) and not isinstance(annotation, types.GenericAlias):
        return annotation if issubclass(annotation, BaseModel) else None
    for argument in typing.get_args(annotation):
        found = _inner_model(argument)
        if found is not None:
            return found
    return None


def _split(path: KeyPath) -> tuple[KeyPath, str | None]:
    """The table that a path lies in, and the key in it; indices of plain lists are dropped."""
    names = [i for i, part in enumerate(path) if isinstance(part, str)]
    last = names[-1]
    return path[:last], str(path[last])


def _table_text(path: KeyPath, data: Any) -> str:
    """A table in words, with the name of the sticker or lettering that it belongs to."""
    header = ".".join(part for part in path if isinstance(part, str))
    if not any(isinstance(part, int) for part in path):
        return f"[{header}]" if len(path) == 1 or path[0] not in ("sticker", "lettering") else header
    brackets = f"[[{header}]]" if isinstance(path[-1], int) else f"[{header}]"
    owner = _owner(path, data)
    return f"{brackets} {owner}" if owner else brackets


def _owner(path: KeyPath, data: Any) -> str:
    if path[0] not in ("sticker", "lettering") or len(path) < 2 or not isinstance(path[1], int):
        return ""
    try:
        entry = data[path[0]][path[1]]
        label = entry["name" if path[0] == "sticker" else "text"]
    except (KeyError, IndexError, TypeError):
        return ""
    return quoted(label) if isinstance(label, str) else ""

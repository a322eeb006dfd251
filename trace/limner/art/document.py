"""An SVG file as a tree that is safe to walk.

Method: lxml, without entities, network or document types of the file's own; sizes are bounded.
"""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from limner.errors import InputError

__all__ = ["Document", "local_name", "open_document"]

# A drawing for a sticker is some hundred kilobytes at most.
_LARGEST_FILE_BYTES = 10_000_000

_SVG = "http://www.w3.org/2000/svg"
_HREF = "{http://www.w3.org/1999/xlink}href"
_TITLE = 30


@dataclass(frozen=True, slots=True, eq=False)
class Document:
    """An opened file.

    Parameters
    ----------
    name : str
        The file's name.
    root : Element
        Its outermost element.
    by_id : dict of str to Element
        What can be used again.
    """

    name: str
    root: Any
    by_id: dict[str, Any]

    def refuse(self, element: Any, problem: str) -> InputError:
        """An error that names the file, the line and the element."""
        label = " ".join((element.get("id") or "".join(element.itertext())).split())
        shown = f' "{label[:_TITLE]}"' if label else ""
        return InputError(
            f"{self.name}, line {element.sourceline}: <{local_name(element)}>{shown} {problem}."
        )

    def used(self, element: Any) -> Any:
        """What a `use` element refers to.

        Raises
        ------
        InputError
            It is not in this file.
        """
        link = element.get("href") or element.get(_HREF) or ""
        target = self.by_id.get(link[1:]) if link.startswith("#") else None
        if target is None:
            raise self.refuse(element, "uses something that is not in this file: expand it first")
        return target


def local_name(element: Any) -> str:
    """An SVG element's name without its namespace; empty for what is none: comments, other languages' own."""
    tag = element.tag
    if not isinstance(tag, str):
        return ""
    namespace, _, name = tag[1:].rpartition("}") if tag.startswith("{") else ("", "", tag)
    return name if namespace in ("", _SVG) else ""


def open_document(path: Path) -> Document:
    """Open an SVG file.

    Raises
    ------
    InputError
        It cannot be read, is too large, or no SVG that is safe to read.
    """
    from lxml import etree

    text = _read(path)
    parser = etree.XMLParser(
        resolve_entities=False, load_dtd=False, no_network=True, huge_tree=False, remove_comments=True
    )
    try:
        root = etree.fromstring(text, parser)
    except etree.XMLSyntaxError as error:
        line = f", line {error.lineno}" if error.lineno else ""
        if "entity" in str(error.msg).lower() and b"<!ENTITY" in text:
            raise InputError(f"{path.name} declares entities of its own: save it as plain SVG.") from None
        reason = re.sub(r",? line \d+.*", "", str(error.msg or "it ends too early"))
        raise InputError(f"{path.name}{line}: not a whole SVG file ({reason}): save it again.") from None
    declared = root.getroottree().docinfo.internalDTD
    if declared is not None and any(True for _ in declared.iterentities()):
        raise InputError(f"{path.name} declares entities of its own: save it as plain SVG.")
    if local_name(root) != "svg":
        raise InputError(f"{path.name} is XML, but no SVG: save the art as SVG.")
    return Document(path.name, root, {e.get("id"): e for e in root.iter() if e.get("id")})


def _read(path: Path) -> bytes:
    try:
        if not path.is_file():
            raise InputError(f'"{path.name}" is not there, or is not a file: check its name.')
        if path.stat().st_size > _LARGEST_FILE_BYTES:
            megabytes = _LARGEST_FILE_BYTES // 1_000_000
            raise InputError(f'"{path.name}" is larger than {megabytes} MB: simplify the art.')
        text = path.read_bytes()
    except (OSError, ValueError) as error:
        raise InputError(f'"{path.name}" cannot be read: check its name and rights.') from error
    if b"<" not in text[:1000]:
        raise InputError(
            f'"{path.name}" is no SVG: art is a vector drawing; a photograph is a sketch = "...", not art.'
        )
    return text

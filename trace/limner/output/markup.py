"""Names and numbers as they may stand in SVG and HTML."""

import re
import unicodedata
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from limner.model.geometry import CubicPath

__all__ = ["path_data", "plain_text", "unique_ids", "unique_stems", "xml_id"]

# NameStartChar and NameChar of XML 1.0 (fifth edition, productions 4 and 4a), less the colon, which
# namespaces claim.
_NAME_START = (
    "A-Z_a-z\u00c0-\u00d6\u00d8-\u00f6\u00f8-\u02ff\u0370-\u037d\u037f-\u1fff\u200c-\u200d\u2070-\u218f"
    "\u2c00-\u2fef\u3001-\ud7ff\uf900-\ufdcf\ufdf0-\ufffd\U00010000-\U000effff"
)
_NOT_IN_NAME = re.compile(f"[^{_NAME_START}.0-9\u00b7\u0300-\u036f\u203f-\u2040-]+")
_STARTS_NAME = re.compile(f"[{_NAME_START}]")

# What production 2 of XML 1.0 does not allow in a document at all.
_NOT_A_CHARACTER = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")

_DECIMALS = 3  # 0.001 mm: a hundredth of a press dot at 175 lines per inch (common practice, no source)


def plain_text(text: str) -> str:
    """`text` with every character that XML forbids replaced by the replacement character U+FFFD."""
    return _NOT_A_CHARACTER.sub("\ufffd", text)


def xml_id(name: str) -> str:
    """The nearest valid XML identifier to `name`.

    Letters of any script, digits, ".", "-" and "_" stay; anything else becomes "-"; an identifier that
    would start with another sign than a letter or "_" gets "_" put in front.
    """
    text = _NOT_IN_NAME.sub("-", unicodedata.normalize("NFC", name)).strip("-") or "_"
    return text if _STARTS_NAME.match(text) else f"_{text}"


def unique_ids(names: Iterable[str]) -> list[str]:
    """Identifiers of `names`, in their order; a second one of the same spelling gets "-2", and so on."""
    taken: set[str] = set()
    ids = []
    for name in names:
        base = candidate = xml_id(name)
        count = 1
        while candidate in taken:
            count += 1
            candidate = f"{base}-{count}"
        taken.add(candidate)
        ids.append(candidate)
    return ids


def unique_stems(stems: Sequence[str]) -> list[str]:
    """A name for each of several files: its own, numbered where an earlier one has it.

    Capitals do not tell names apart, as some file systems take "Crab" and "crab" for one name.
    """
    own = {stem.casefold() for stem in stems}
    taken: set[str] = set()
    names = []
    for stem in stems:
        name, number = stem, 1
        while name.casefold() in taken or (number > 1 and name.casefold() in own):
            number += 1
            name = f"{stem}-{number}"
        taken.add(name.casefold())
        names.append(name)
    return names


def _numbers(values: NDArray[np.float64]) -> list[str]:
    """Shortest decimal texts of rounded coordinates; never "-0"."""
    return [f"{value:.{_DECIMALS}f}".rstrip("0").rstrip(".") for value in (values + 0.0).tolist()]


def path_data(paths: Iterable[CubicPath]) -> str:
    """SVG path data of closed paths: only M, C, L and Z, absolute, rounded to 0.001 mm.

    Every segment is written out, also the straight one that closes a path, so that the number of C and
    L commands is the number of nodes.
    """
    parts: list[str] = []
    for path in paths:
        points = np.round(path.segments, _DECIMALS) + 0.0
        text = _numbers(points.reshape(-1))
        parts.append(f"M{text[0]} {text[1]}")
        for index, straight in enumerate(path.straight.tolist()):
            x1, y1, x2, y2, x3, y3 = text[8 * index + 2 : 8 * index + 8]
            parts.append(f"L{x3} {y3}" if straight else f"C{x1} {y1} {x2} {y2} {x3} {y3}")
        parts.append("Z")
    return "".join(parts)

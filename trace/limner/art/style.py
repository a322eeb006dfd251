"""What an element of an SVG looks like: attributes, its style, and simple rules of a style sheet.

Method: presentation attributes, then rules of `<style>`, then the element's own style, as CSS has it; of
selectors a class, an id, a name of an element, and lists of these. Colours are read by Pillow, which knows
the names and notations of CSS.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from limner.art.document import Document, local_name
from limner.errors import InputError
from limner.model.colour import screen_of

__all__ = ["Look", "StyleSheet", "number"]

_INHERITED = (
    "color",
    "fill",
    "fill-rule",
    "fill-opacity",
    "stroke",
    "stroke-width",
    "stroke-opacity",
    "stroke-linecap",
    "stroke-linejoin",
    "stroke-miterlimit",
    "stroke-dasharray",
    "visibility",
)
_OWN = ("display", "opacity", "filter", "mask", "clip-path", "mix-blend-mode", "paint-order", "vector-effect")

# What would change the look in a way that closed shapes of one colour do not have.
_REFUSED = {
    "filter": "has a filter: apply it or take it off",
    "mask": "is masked: cut it out instead",
    "clip-path": "is clipped: cut it out instead",
    "mix-blend-mode": "is blended: give it the colour that it shows",
    "paint-order": "has a paint order of its own: outline its stroke first",
    "vector-effect": "has a stroke that does not scale: outline it first",
}

_RULE = re.compile(r"([^{}]+)\{([^{}]*)\}")
_SELECTOR = re.compile(r"[.#]?[\w-]+")
_NUMBER = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(px|pt|mm|cm|in|%)?\s*")
# CSS Values 3: absolute lengths in pixels.
_PX = {"px": 1.0, None: 1.0, "pt": 96 / 72, "mm": 96 / 25.4, "cm": 96 / 2.54, "in": 96.0}

# CSS Color 3: a colour with a share of its opacity, which Pillow reads in bytes.
_WITH_ALPHA = re.compile(r"(rgb|hsl)a?\(([^,]+,[^,]+,[^,]+),\s*([\d.]+%?)\s*\)")

_NOTHING = ("none", "transparent")


def number(text: str | None, default: float = 0.0) -> float:
    """A length in user units.

    Raises
    ------
    ValueError
        It is none, or a share of something.
    """
    if text is None:
        return default
    found = _NUMBER.fullmatch(text)
    if found is None or found[2] == "%":
        raise ValueError("not a length")
    return float(found[1]) * _PX[found[2]]


class StyleSheet:
    """The rules of a document's `<style>` elements.

    Parameters
    ----------
    document : Document
        What they are for.

    Raises
    ------
    InputError
        A rule has a selector that is not simple.
    """

    def __init__(self, document: Document) -> None:
        self._rules: list[tuple[str, dict[str, str]]] = []
        for element in document.root.iter():
            if local_name(element) == "style":
                text = re.sub(r"/\*.*?\*/", "", "".join(element.itertext()), flags=re.DOTALL)
                for selectors, body in _RULE.findall(text):
                    self._add(document, element, selectors, body)

    def _add(self, document: Document, element: Any, selectors: str, body: str) -> None:
        for selector in (part.strip() for part in selectors.split(",")):
            if selector.startswith("@"):
                continue
            if not _SELECTOR.fullmatch(selector):
                problem = f"has the selector {selector[:40]}: save the art with attributes instead of rules"
                raise document.refuse(element, problem)
            self._rules.append((selector, _declarations(body)))

    def of(self, element: Any) -> dict[str, str]:
        """Declarations for one element, its own last."""
        known = (*_INHERITED, *_OWN)
        found = {name: element.get(name) for name in known if element.get(name) is not None}
        names = {f".{name}" for name in (element.get("class") or "").split()}
        names |= {local_name(element), f"#{element.get('id')}"}
        # CSS: an id weighs more than a class, a class more than a name.
        for weight in ("", ".", "#"):
            for selector, declared in self._rules:
                sign = selector[0] if selector[0] in ".#" else ""
                if sign == weight and selector in names:
                    found.update(declared)
        found.update(_declarations(element.get("style") or ""))
        return found


def _declarations(body: str) -> dict[str, str]:
    pairs = (part.split(":", 1) for part in body.split(";") if ":" in part)
    return {name.strip().lower(): value.replace("!important", "").strip() for name, value in pairs}


@dataclass(frozen=True, slots=True)
class Look:
    """How elements inside of one another look so far.

    Parameters
    ----------
    values : mapping of str to str
        What is inherited.
    """

    values: Mapping[str, str]

    def inside(self, document: Document, element: Any, declared: Mapping[str, str]) -> "Look":
        """The look of an element within this one.

        Raises
        ------
        InputError
            It asks for something that closed shapes of one colour do not have.
        """
        for name, problem in _REFUSED.items():
            if declared.get(name, "none").lower() not in ("none", "normal", ""):
                raise document.refuse(element, problem)
        for name in ("opacity", "fill-opacity", "stroke-opacity"):
            if _share(declared.get(name, "1")) < 1.0:
                problem = "is see-through, which ink on a sticker is not: give it the colour that it shows"
                raise document.refuse(element, problem)
        own = {name: value for name, value in declared.items() if name in _INHERITED and value != "inherit"}
        return Look({**self.values, **own})

    def colour(self, document: Document, element: Any, name: str, default: str) -> str | None:
        """The screen value of its fill or stroke; None where there is none.

        Raises
        ------
        InputError
            It is a gradient, a pattern or no colour.
        """
        value = self.values.get(name, default).strip()
        if value.lower() == "currentcolor":
            value = self.values.get("color", "black").strip()
        if value.lower() in _NOTHING:
            return None
        if value.startswith("url("):
            problem = f"has a gradient or a pattern for its {name}: give it one colour"
            raise document.refuse(element, problem)
        try:
            return _screen(value)
        except ValueError:
            raise document.refuse(element, f"has a {name} that is no colour ({value[:30]})") from None
        except InputError as error:
            raise document.refuse(element, str(error)) from None


def _share(text: str) -> float:
    try:
        return float(text[:-1]) / 100 if text.endswith("%") else float(text)
    except ValueError:
        return 1.0


def _screen(value: str) -> str:
    from PIL import ImageColor

    found = _WITH_ALPHA.fullmatch(value)
    if found is not None:
        value = f"{found[1]}({found[2]})"
    rgb = ImageColor.getrgb(value)
    if (found is not None and _share(found[3]) < 1.0) or (len(rgb) == 4 and rgb[3] < 255):
        raise InputError("is see-through, which ink on a sticker is not: give it the colour that it shows")
    return screen_of((rgb[0], rgb[1], rgb[2]))

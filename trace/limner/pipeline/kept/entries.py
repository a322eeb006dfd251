"""What kept entries are made of: numbers and arrays as JSON, checked as they are read like any input.

Long arrays stand as base64 of their little-endian bytes, which reads ten times as fast as written-out numbers
and as exactly.
"""

import base64
from dataclasses import asdict
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limner.model.colour import is_screen
from limner.model.geometry import Axis

__all__ = [
    "array_from_text",
    "array_to_text",
    "axis_from_json",
    "axis_to_json",
    "fill_from_json",
    "index",
    "number",
    "text",
]


def number(value: Any) -> float:
    """A finite number.

    Raises
    ------
    ValueError
        It is none; likewise below.
    """
    if not isinstance(value, int | float) or isinstance(value, bool) or not np.isfinite(value):
        raise ValueError("not a number")
    return float(value)


def index(value: Any, count: int | None = None) -> int:
    """A whole number from 0, below a count."""
    if not isinstance(value, int) or isinstance(value, bool) or value < 0:
        raise ValueError("not an index")
    if count is not None and value >= count:
        raise ValueError("an index of nothing")
    return value


def text(value: Any) -> str:
    """A text."""
    if not isinstance(value, str):
        raise ValueError("not a text")
    return value


def fill_from_json(value: Any) -> str:
    """A screen colour "#rrggbb"."""
    if not is_screen(text(value)):
        raise ValueError("not a colour")
    return str(value)


def array_to_text(array: NDArray[np.float64]) -> str:
    """All numbers of an array."""
    return base64.b64encode(np.ascontiguousarray(array, dtype="<f8").tobytes()).decode("ascii")


def array_from_text(value: Any, columns: int = 2) -> NDArray[np.float64]:
    """The array that `array_to_text` wrote, shape (n, columns); (n,) for 1."""
    data = base64.b64decode(text(value), validate=True)
    array = np.frombuffer(data, dtype="<f8").astype(np.float64)
    if not np.isfinite(array).all():
        raise ValueError("not numbers")
    return array if columns == 1 else array.reshape(-1, columns)


def axis_to_json(axis: Axis) -> dict[str, Any]:
    """An axis of symmetry."""
    return asdict(axis)


def axis_from_json(data: Any) -> Axis:
    """The axis that `axis_to_json` wrote."""
    x_mm, y_mm, angle_deg, score = (number(data[name]) for name in ("x_mm", "y_mm", "angle_deg", "score"))
    if data["keep"] not in (None, "left", "right"):
        raise ValueError("not a side")
    return Axis(x_mm, y_mm, angle_deg, score, text(data["how"]), data["keep"])

"""Arrays: what they are called, and how they are copied, checked and frozen on the way into a value."""

from typing import Any

import numpy as np
from numpy.typing import DTypeLike, NDArray

__all__ = ["Flags", "Floats", "Indices", "Ints", "Singles", "frozen"]

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.intp]
Indices = NDArray[np.int64]
Flags = NDArray[np.bool_]


def frozen(values: object, dtype: DTypeLike, shape: tuple[int | None, ...], name: str) -> NDArray[Any]:
    """Copy `values` into a read-only array and check its shape.

    Parameters
    ----------
    values : array_like
        What to hold.
    dtype : dtype_like
        Type of the array that is made.
    shape : tuple of int or None
        The shape asked for; None stands for any length along that axis.
    name : str
        What the array is called in the error message.

    Returns
    -------
    ndarray
        A contiguous, read-only copy (or `values` itself where it already is one).

    Raises
    ------
    ValueError
        The shape is another one.
    """
    array = np.asarray(values, dtype=dtype)
    if array.ndim != len(shape) or any(
        want is not None and want != have for want, have in zip(shape, array.shape, strict=True)
    ):
        raise ValueError(f"{name} must have shape {shape}, not {array.shape}")
    already_frozen = array is values and not array.flags.writeable and array.flags.c_contiguous
    if not already_frozen:
        array = np.array(array, order="C", copy=True)
        array.flags.writeable = False
    return array

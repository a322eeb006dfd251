"""The compiled loops. Arrays must be contiguous: float64, int64, or one byte for each truth value."""

import numpy as np
from numpy.typing import NDArray

_Floats = NDArray[np.float64]
_Whole = NDArray[np.int64]
_Truths = NDArray[np.bool_]

source_digest: str

def span_errors(
    points: _Floats,
    tolerance: _Floats,
    first: _Whole,
    last: _Whole,
    even: _Floats,
    inner: _Floats,
    limits: _Floats,
    out: _Floats,
    steps: int,
    /,
) -> None: ...
def fit_spans(
    points: _Floats,
    first: _Whole,
    last: _Whole,
    even: _Floats,
    inner: _Floats,
    out: _Floats,
    steps: int,
    /,
) -> None: ...
def polish(
    place: _Floats,
    angle: _Floats,
    handle: _Floats,
    smooth: _Truths,
    fixed: _Truths,
    held: _Truths,
    start: _Whole,
    end: _Whole,
    before: _Whole,
    after: _Whole,
    path: _Whole,
    straight: _Truths,
    points: _Floats,
    tolerance: _Floats,
    segment: _Whole,
    t: _Floats,
    rules: _Floats,
    steps: int,
    sharp: int,
    /,
) -> None: ...
def follow_feet(
    curves: _Floats,
    before: _Whole,
    after: _Whole,
    points: _Floats,
    segment: _Whole,
    t: _Floats,
    steps: int,
    /,
) -> None: ...
def distances(
    curves: _Floats,
    points: _Floats,
    segment: _Whole,
    t: _Floats,
    normal: _Floats,
    distance: _Floats,
    /,
) -> None: ...
def nearest(
    curves: _Floats,
    first: _Whole,
    closed: _Truths,
    owner: _Whole,
    x: _Floats,
    y: _Floats,
    u: _Floats,
    best: _Floats,
    steps: int,
    /,
) -> None: ...
def corners(
    points: _Floats,
    tolerance: _Floats,
    measures: _Floats,
    rules: _Floats,
    out: _Floats,
    closed: int,
    apart: int,
    /,
) -> int: ...

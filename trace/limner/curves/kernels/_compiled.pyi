"""The compiled loops; border.h says what the arrays are. They must be contiguous: float64, int64, bool."""

from limner.model.arrays import Flags, Floats, Indices

source_digest: str

def span_errors(
    *, points: Floats, tolerance: Floats, linear: Floats, first: Indices, last: Indices, errors: Floats
) -> None: ...
def fit_spans(*, points: Floats, linear: Floats, first: Indices, last: Indices, cubics: Floats) -> None: ...
def polish(
    *,
    place: Floats,
    angle: Floats,
    handle: Floats,
    smooth: Flags,
    fixed: Flags,
    held: Flags,
    start: Indices,
    end: Indices,
    before: Indices,
    after: Indices,
    path: Indices,
    straight: Flags,
    points: Floats,
    tolerance: Floats,
    segment: Indices,
    t: Floats,
    steps: int,
    sharp: int,
) -> None: ...
def follow_feet(
    *,
    curves: Floats,
    before: Indices,
    after: Indices,
    points: Floats,
    segment: Indices,
    t: Floats,
    steps: int,
) -> None: ...
def distances(
    *, curves: Floats, points: Floats, segment: Indices, t: Floats, normal: Floats, distance: Floats
) -> None: ...
def nearest(
    *,
    curves: Floats,
    first: Indices,
    closed: Flags,
    owner: Indices,
    points: Floats,
    u: Floats,
    squared: Floats,
    steps: int,
) -> None: ...
def nearest_chords(
    *, vertices: Floats, first: Indices, owner: Indices, points: Floats, squared: Floats, place: Floats
) -> None: ...
def find_corners(
    *,
    points: Floats,
    tolerance: Floats,
    corners: Floats,
    typical: float,
    step: float,
    spacing: float,
    noise: float,
    closed: int,
) -> int: ...
def calm(
    *,
    points: Floats,
    target: Floats,
    band: Floats,
    weight: Floats,
    stiff: Floats,
    line: Floats,
    reach: int,
    rounds: int,
) -> None: ...

"""Places for the stickers that the job leaves free.

Method: `packing` finds places on a coarse grid, `spacing` parts and then spreads the outlines, and the
result is measured on the outlines themselves (shapely): only what keeps every distance is accepted.
Rows of boxes are tried, too, as a grid is too coarse for what fits to a hair. Where the stickers do not
fit, the largest common scale at which they do is found by bisection: the art is scaled, the distance of its
cut line is not.

Limits: a heuristic search: a sheet that could be filled only by a puzzler's luck may be refused. It
makes the same moves on every machine; places are rounded to a hundredth of a millimetre.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from shapely import affinity

from limner.errors import GeometryError
from limner.model.arrays import Floats
from limner.model.sheet import Box
from limner.sheet.layout.packing import pack
from limner.sheet.layout.pose import Pose
from limner.sheet.layout.spacing import Body, part, sample_body, spread
from limner.sheet.settings import LayoutSettings

__all__ = ["FreeSticker", "largest_scale", "place_free", "sampled", "scaled", "try_places"]

Region = Any

Attempt = tuple[float, int, int, bool]
"""Gap, sweeps and seed of one search, and whether stickers may be turned."""

Move = Callable[[Sequence[Body], Floats, Box, Sequence[Body], float], Floats]
"""`part` or `spread`."""

# Distances may fall short by this much through rounding.
_ROUNDING_MM = 0.005

# Outlines are simplified to this for the search and for spacing, not for the measurement.
_SEARCH_DETAIL_MM = 0.05
_SPACING_DETAIL_MM = 0.01

# Where there is room, places are looked for with a wider gap first, as an evenly filled sheet comes out
# of it; multiples of the gap or of the millimetre, whichever is more, tried with a short search.
_WIDE_GAPS = (8.0, 5.0, 3.0, 2.0)
_WIDE_SWEEPS = 8

# Sparse sheets begin with gaps that would fill this share of the room, and smaller ones.
_EVEN_SHARE = 0.8
_EVEN_GAPS = (1.0, 0.75, 0.5)

# Where no sticker may turn, a move costs a sixteenth: the last search goes on so many times as long. On ten
# irregular shapes it fills 63.5 % of the safe area instead of 60.0 %, and ten times as long no more.
_UPRIGHT_PATIENCE = 4

# Rotations tried for a sticker that may turn: this far apart, as finer steps gain little.
_TURN_STEP_DEG = 22.5

# Where none of these fits the sheet, others between them: so far apart, and so many of those that fit.
_FINE_TURN_DEG, _FINE_TURNS = 0.5, 5

# Larger outlines are not sampled ahead: most of them fit no sheet.
_LARGEST_AHEAD_MM = 400.0

# A message names at most so many stickers.
_MOST_NAMES = 5

# An outline at another scale is known to this: it is not fitted.
_SCALED_SPARE_MM = 0.1

# Bisection for the scale stops at this.
_SCALE_STEP = 0.01
_SMALLEST_SCALE = 0.05
_TRIAL_SHARE = 0.35


@dataclass(frozen=True, slots=True, eq=False)
class FreeSticker:
    """A sticker without a place.

    Parameters
    ----------
    name : str
        For messages.
    outline : Polygon
        Region inside its cut line, around the centre of its art.
    turn_deg : float
        How far it may be turned either way; 180 is any way.
    margin_mm : float
        Distance between art and outline, which stays when the art is scaled.
    body : Body or None
        The outline sampled ahead as it stands, by `sampled`; None: it is sampled when it is placed.
    """

    name: str
    outline: Region
    turn_deg: float = 0.0
    margin_mm: float = 0.0
    body: Body | None = None


def place_free(
    stickers: Sequence[FreeSticker], box: Box, obstacles: Sequence[Region], settings: LayoutSettings
) -> list[Pose]:
    """Find places for stickers.

    Parameters
    ----------
    stickers : sequence of FreeSticker
        What is to be placed.
    box : Box
        The safe part of the sheet: cut lines stay inside.
    obstacles : sequence of Polygon
        Regions that keep the gap, too: stickers at fixed places, and lettering (grown beforehand where
        its distance is another one).
    settings : LayoutSettings
        The gap, and how long to search.

    Returns
    -------
    list of Pose
        In the order of `stickers`.

    Raises
    ------
    GeometryError
        They do not fit: the message says which, and the largest common scale that would.
    """
    if not stickers:
        return []
    too_large = [i for i, sticker in enumerate(stickers) if not _fitting_turns(sticker, box)]
    crowded = [] if too_large else _beyond_the_room(stickers, box, obstacles, settings.gap_mm)
    if not too_large and not crowded:
        poses, lacking = try_places(stickers, box, obstacles, settings)
        if not lacking:
            return poses
    lacking = too_large or crowded or lacking
    # What is far too much is refused at once: its scale is sought without patience.
    patience = _patience(stickers) * settings.rounds if not crowded else 0
    scale = largest_scale(stickers, box, obstacles, settings, patience)
    advice = (
        f"at {int(100 * scale)} percent of their size all free stickers would fit"
        if scale > 0
        else "even much smaller they would not fit"
    )
    names = _listed([stickers[i].name for i in lacking])
    raise GeometryError(
        f"The stickers do not fit the sheet: there is no room for {names}; {advice}. "
        "Make stickers, gap or safe margin smaller, or the sheet larger."
    )


def sampled(sticker: FreeSticker) -> FreeSticker:
    """The sticker with what placing it takes most time for, so that this can be done ahead."""
    x0, y0, x1, y1 = shapely.bounds(sticker.outline)
    if max(x1 - x0, y1 - y0) > _LARGEST_AHEAD_MM:
        return sticker
    return replace(sticker, body=sample_body(_simple(sticker, 0.0)))


def scaled(sticker: FreeSticker, scale: float) -> FreeSticker:
    """The sticker with its art at another scale and its cut line at the same distance."""
    core = shapely.buffer(sticker.outline, -sticker.margin_mm)
    core = max(shapely.get_parts(core), key=shapely.area, default=shapely.Point(0, 0))
    margin = sticker.margin_mm + (_SCALED_SPARE_MM if sticker.margin_mm else 0.0)
    outline = shapely.buffer(affinity.scale(core, scale, scale, origin=(0, 0)), margin)
    return FreeSticker(sticker.name, outline, sticker.turn_deg, sticker.margin_mm)


def largest_scale(
    stickers: Sequence[FreeSticker],
    box: Box,
    obstacles: Sequence[Region],
    settings: LayoutSettings,
    sweeps: int | None = None,
) -> float:
    """The largest common scale, up to 1, at which so many sweeps find places; 0 where there is none."""
    if sweeps is None:
        sweeps = settings.rounds * _patience(stickers)
    tight = [(settings.gap_mm, sweeps, 0, True)]

    def fits(scale: float) -> bool:
        smaller = [scaled(sticker, scale) for sticker in stickers]
        if not all(_fitting_turns(sticker, box) for sticker in smaller):
            return False
        if _beyond_the_room(smaller, box, obstacles, settings.gap_mm):
            return False
        return not _found_places(_Room(smaller, box, obstacles, settings.gap_mm), tight)[1]

    if not fits(_SMALLEST_SCALE):
        return 0.0
    low, high = _SMALLEST_SCALE, 1.0
    while high - low > _SCALE_STEP:
        # Sheets are rarely far too full: the first trials are near the upper end.
        trial = high - (high - low) * _TRIAL_SHARE
        low, high = (trial, high) if fits(trial) else (low, trial)
    return low


def try_places(
    stickers: Sequence[FreeSticker], box: Box, obstacles: Sequence[Region], settings: LayoutSettings
) -> tuple[list[Pose], list[int]]:
    """Places, and the indices of the stickers that found none without overlap."""
    room = _Room(stickers, box, obstacles, settings.gap_mm)
    poses, lacking = _found_places(room, _wide_attempts(room, settings))
    if lacking:
        poses = _in_rows(room)
        lacking = room.lacking(poses)
    if lacking:
        poses, lacking = _found_places(room, _attempts(stickers, settings))
    if lacking:
        return poses, lacking
    even = room.spread(poses)
    if room.lacking(even):
        even = room.parted(even)
    # Spreading must not undo what was found.
    return (poses if room.lacking(even) else even), []


class _Room:
    """Stickers and the room for them; each is sampled once for every rotation that it is tried in."""

    def __init__(
        self, stickers: Sequence[FreeSticker], box: Box, obstacles: Sequence[Region], gap_mm: float
    ) -> None:
        self.stickers, self.box, self.obstacles, self.gap_mm = stickers, box, obstacles, gap_mm
        self._fixed = [sample_body(obstacle) for obstacle in obstacles]
        # Copies share an outline.
        self._bodies = {(id(s.outline), 0.0): s.body for s in stickers if s.body is not None}

    def parted(self, poses: Sequence[Pose]) -> list[Pose]:
        """The same rotations at places that keep the gap, where such are near."""
        return self._moved(poses, part)

    def spread(self, poses: Sequence[Pose]) -> list[Pose]:
        """The same rotations, evenly apart."""
        return self._moved(poses, spread)

    def lacking(self, poses: Sequence[Pose]) -> list[int]:
        """Fewest stickers, as found by taking away the worst first, without which all distances are kept."""
        regions = [
            affinity.translate(outline, pose.x, pose.y)
            for outline, pose in zip(_turned(self.stickers, poses), poses, strict=True)
        ]
        count = len(regions)
        clash = np.zeros((count, count), bool)
        for i, region in enumerate(regions):
            clash[i, i + 1 :] = shapely.dwithin(region, regions[i + 1 :], self.gap_mm - _ROUNDING_MM)
        clash |= clash.T
        out = [_leaves(region, self.box) or self._is_blocked(region) for region in regions]
        lacking = [i for i in range(count) if out[i]]
        clash[lacking] = clash[:, lacking] = False
        while clash.any():
            worst = int(np.argmax(clash.sum(axis=1) + 1e-9 * np.array([r.area for r in regions])))
            lacking.append(worst)
            clash[worst] = clash[:, worst] = False
        return sorted(lacking)

    def _is_blocked(self, region: Region) -> bool:
        return any(shapely.dwithin(region, list(self.obstacles), self.gap_mm - _ROUNDING_MM))

    def _moved(self, poses: Sequence[Pose], move: Move) -> list[Pose]:
        bodies = [self._body(i, pose.turn_deg) for i, pose in enumerate(poses)]
        return _poses(poses, move(bodies, _centres(poses), self.box, self._fixed, self.gap_mm))

    def _body(self, item: int, turn_deg: float) -> Body:
        key = id(self.stickers[item].outline), turn_deg
        if key not in self._bodies:
            self._bodies[key] = sample_body(_simple(self.stickers[item], turn_deg))
        return self._bodies[key]


def _found_places(room: _Room, attempts: Sequence[Attempt]) -> tuple[list[Pose], list[int]]:
    """The first attempt that succeeds, or else the one that places most."""
    lacking = list(range(len(room.stickers)))
    poses: list[Pose] = []
    for attempt in attempts:
        tried, overlaps = _one_start(room, attempt)
        if attempt[0] > room.gap_mm and overlaps:
            continue
        tried = room.parted(tried)
        missing = room.lacking(tried)
        if not poses or len(missing) < len(lacking):
            poses, lacking = tried, missing
        if not lacking:
            break
    return poses, lacking


def _patience(stickers: Sequence[FreeSticker]) -> int:
    """How many times as long the last search goes on."""
    return 1 if any(sticker.turn_deg for sticker in stickers) else _UPRIGHT_PATIENCE


def _wide_attempts(room: _Room, settings: LayoutSettings) -> list[Attempt]:
    """Upright with wide gaps first, as stickers look best so."""
    unit = max(settings.gap_mm, 1.0)
    even = _even_gap(room)
    gaps = [share * even for share in _EVEN_GAPS if share * even > _WIDE_GAPS[0] * unit]
    # With more than that the stickers would fill a share of the room that no short search reaches.
    gaps += [times * unit for times in _WIDE_GAPS if times * unit <= even]
    return [(gap, _WIDE_SWEEPS, 0, False) for gap in gaps]


def _even_gap(room: _Room) -> float:
    """The gap with which the stickers would take up most of the room, by Steiner's formula."""
    outlines = [sticker.outline for sticker in room.stickers]
    free = _EVEN_SHARE * _free_area(room.box, room.obstacles)
    half_gap = np.roots(
        [np.pi * len(outlines), sum(o.length for o in outlines), sum(o.area for o in outlines) - free]
    )
    return 2.0 * float(max(half_gap.real.max(), 0.0))


def _free_area(box: Box, obstacles: Sequence[Region]) -> float:
    room = shapely.box(*box)
    return float(room.area - shapely.union_all([room.intersection(obstacle) for obstacle in obstacles]).area)


def _beyond_the_room(
    stickers: Sequence[FreeSticker], box: Box, obstacles: Sequence[Region], gap_mm: float
) -> list[int]:
    """The largest stickers, without which the area of the rest, with half the gap around each, has room."""
    half = gap_mm / 2
    wide = (box[0] - half, box[1] - half, box[2] + half, box[3] + half)
    grown = np.array([shapely.area(shapely.buffer(sticker.outline, half)) for sticker in stickers])
    order = np.argsort(-grown, kind="stable")
    left = grown.sum() - np.concatenate([[0.0], np.cumsum(grown[order])])
    return sorted(int(i) for i in order[: int(np.argmax(left <= _free_area(wide, obstacles)))])


def _in_rows(room: _Room) -> list[Pose]:
    """Upright, box beside box in rows, the tallest first; what finds no room lies below the others."""
    bounds = np.array([shapely.bounds(sticker.outline) for sticker in room.stickers])
    sizes = bounds[:, 2:] - bounds[:, :2]
    x0, y0, x1, _ = room.box
    poses: dict[int, Pose] = {}
    x, y, row = x0, y0, 0.0
    for i in sorted(range(len(sizes)), key=lambda i: -float(sizes[i, 1])):
        width, height = sizes[i]
        if x > x0 and x + width > x1 + _ROUNDING_MM / 2:
            x, y, row = x0, y + row + room.gap_mm, 0.0
        poses[i] = Pose(float(x - bounds[i, 0]), float(y - bounds[i, 1]), 0.0)
        x, row = x + width + room.gap_mm, max(row, float(height))
    return [poses[i] for i in range(len(sizes))]


def _attempts(stickers: Sequence[FreeSticker], settings: LayoutSettings) -> list[Attempt]:
    """With the gap asked for: upright, then turned."""
    upright = [(settings.gap_mm, settings.rounds, 0, False)]
    # Each start searches twice as long as the one before: most sheets need none of these.
    turned = [(settings.gap_mm, settings.rounds * 2**seed, seed, True) for seed in range(settings.starts)]
    patience = _patience(stickers)
    # What the largest scale was found with comes last, so that it holds what it promises.
    patient = [(settings.gap_mm, settings.rounds * patience, 0, True)] if patience > 1 else []
    return upright + turned + patient


def _one_start(room: _Room, attempt: Attempt) -> tuple[list[Pose], bool]:
    """Poses from the coarse search, and whether they still overlap there."""
    gap_mm, sweeps, seed, turning = attempt
    half = gap_mm / 2
    outlines = {id(s.outline): s.outline for s in room.stickers}
    wider = {
        key: shapely.simplify(shapely.buffer(outline, half), _SEARCH_DETAIL_MM)
        for key, outline in outlines.items()
    }
    grown = [wider[id(s.outline)] for s in room.stickers]
    x0, y0, x1, y1 = room.box
    wide = (x0 - half, y0 - half, x1 + half, y1 + half)
    blocked = shapely.union_all([shapely.buffer(obstacle, half) for obstacle in room.obstacles])
    turns = [_turns(sticker, room.box, seed, turning=turning) for sticker in room.stickers]
    poses, overlaps = pack(grown, turns, wide, blocked, sweeps=sweeps, seed=seed)
    return poses, bool(overlaps.any())


def _turns(sticker: FreeSticker, box: Box, seed: int, *, turning: bool) -> list[float]:
    """Rotations to try: upright first, then ever farther both ways; each search its own between the steps."""
    if not turning:
        return [0.0]
    coarse = _coarse_turns(sticker.turn_deg, seed)
    if any(_fits_turned(sticker, turn, box) for turn in coarse):
        return coarse
    return _fitting_turns(sticker, box) or coarse


def _coarse_turns(turn_deg: float, seed: int = 0) -> list[float]:
    limit = min(turn_deg, 180.0)
    steps = int(np.ceil(limit / _TURN_STEP_DEG))
    # The first search tries whole shares of the limit, the next ones halves and thirds of a step before them.
    share = 0.0 if seed == 0 else 1.0 / (seed + 1)
    away = [limit * (step + 1 - share) / steps for step in range(steps)]
    both = [sign * turn for turn in away for sign in (1.0, -1.0)]
    # Upside down is the same either way.
    return [0.0, *(turn for turn in both if turn > -180.0)]


def _fitting_turns(sticker: FreeSticker, box: Box) -> list[float]:
    """Rotations in which it would fit if it were alone, the smallest first; none where there is none."""
    coarse = [turn for turn in _coarse_turns(sticker.turn_deg) if _fits_turned(sticker, turn, box)]
    if coarse:
        return coarse
    limit = min(sticker.turn_deg, 180.0)
    fine = np.arange(-limit, limit + _FINE_TURN_DEG / 2, _FINE_TURN_DEG)
    fitting = [float(turn) for turn in fine if _fits_turned(sticker, float(turn), box)]
    if not fitting:
        return []
    picked = np.unique(np.linspace(0, len(fitting) - 1, _FINE_TURNS).round().astype(int))
    return sorted((fitting[i] for i in picked), key=abs)


def _fits_turned(sticker: FreeSticker, turn_deg: float, box: Box) -> bool:
    hull = shapely.convex_hull(sticker.outline)
    x0, y0, x1, y1 = shapely.bounds(affinity.rotate(hull, turn_deg, origin=(0, 0)))
    return bool(x1 - x0 <= box[2] - box[0] + _ROUNDING_MM and y1 - y0 <= box[3] - box[1] + _ROUNDING_MM)


def _leaves(region: Region, box: Box) -> bool:
    x0, y0, x1, y1 = shapely.bounds(region)
    slack = _ROUNDING_MM
    return bool(x0 < box[0] - slack or y0 < box[1] - slack or x1 > box[2] + slack or y1 > box[3] + slack)


def _turned(stickers: Sequence[FreeSticker], poses: Sequence[Pose]) -> list[Region]:
    return [
        affinity.rotate(sticker.outline, pose.turn_deg, origin=(0, 0))
        for sticker, pose in zip(stickers, poses, strict=True)
    ]


def _simple(sticker: FreeSticker, turn_deg: float) -> Region:
    """An outline as it is spaced."""
    return shapely.simplify(affinity.rotate(sticker.outline, turn_deg, origin=(0, 0)), _SPACING_DETAIL_MM)


def _centres(poses: Sequence[Pose]) -> Floats:
    return np.array([(pose.x, pose.y) for pose in poses])


def _poses(poses: Sequence[Pose], centres: Floats) -> list[Pose]:
    return [
        Pose(round(float(x), 2), round(float(y), 2), pose.turn_deg)
        for pose, (x, y) in zip(poses, centres, strict=True)
    ]


def _listed(names: Sequence[str]) -> str:
    """Names in a sentence; copies of a sticker have the same one."""
    quoted = [f'"{name}"' for name in dict.fromkeys(names)]
    more = len(quoted) - _MOST_NAMES
    if more > 0:
        return ", ".join(quoted[:_MOST_NAMES]) + f" and {more} more"
    return quoted[0] if len(quoted) == 1 else ", ".join(quoted[:-1]) + f" and {quoted[-1]}"

"""Places for the stickers that the job leaves free.

Method: `packing` finds places on a coarse grid, `spacing` parts and then spreads the outlines, and the
result is measured on the outlines themselves (shapely): only what keeps every distance is accepted.
Rows of boxes are tried, too, as a grid is too coarse for what fits to a hair. Stickers of the same sketch
then change places, so that they do not lie side by side (`alike`). Where the stickers do not fit, the largest
common scale at which they do is found (`scale`).

Limits: a heuristic search: a sheet that could be filled only by a puzzler's luck may be refused. It
makes the same moves on every machine; places are rounded to a hundredth of a millimetre.
"""

from collections.abc import Sequence

from limner.errors import GeometryError
from limner.model.sheet import Box
from limner.sheet.layout.alike import arranged
from limner.sheet.layout.free import FreeSticker, Region, kinds
from limner.sheet.layout.pose import Pose
from limner.sheet.layout.room import Room, beyond_the_room
from limner.sheet.layout.scale import largest_scale
from limner.sheet.layout.search import attempts, found_places, in_rows, wide_attempts
from limner.sheet.layout.turns import fitting_turns
from limner.sheet.settings import LayoutSettings

__all__ = ["place_free", "try_places"]

# Stickers change places so often: spreading them anew may bring others side by side.
_EXCHANGES = 3
# More stickers than that are not spread anew, as it takes some seconds for 500.
_MANY_STICKERS = 100

# A message names at most so many stickers.
_MOST_NAMES = 5


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
    fits = {(id(s.outline), s.turn_deg): bool(fitting_turns(s, box)) for s in kinds(stickers)}
    too_large = [i for i, s in enumerate(stickers) if not fits[id(s.outline), s.turn_deg]]
    crowded = [] if too_large else beyond_the_room(stickers, box, obstacles, settings.gap_mm)
    if not too_large and not crowded:
        poses, lacking = try_places(stickers, box, obstacles, settings)
        if not lacking:
            return poses
    lacking = too_large or crowded or lacking
    # What its area forbids is refused at once.
    scale = largest_scale(stickers, box, obstacles, settings, quick=bool(crowded))
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


def try_places(
    stickers: Sequence[FreeSticker], box: Box, obstacles: Sequence[Region], settings: LayoutSettings
) -> tuple[list[Pose], list[int]]:
    """Places, and the indices of the stickers that found none without overlap."""
    room = Room(stickers, box, obstacles, settings.gap_mm)
    poses, lacking = found_places(room, wide_attempts(room, settings))
    if lacking:
        poses = in_rows(room)
        lacking = room.lacking(poses)
    if lacking:
        poses, lacking = found_places(room, attempts(stickers, settings))
    if lacking:
        return poses, lacking
    poses = _spread(room, poses)
    for _ in range(_EXCHANGES):
        changed = arranged(room, poses, settings.alike)
        if changed is poses or len(stickers) > _MANY_STICKERS:
            return changed, []
        poses = _spread(room, changed)
    return poses, []


def _spread(room: Room, poses: list[Pose]) -> list[Pose]:
    """Evenly apart, where that does not undo what was found."""
    even = room.spread(poses)
    if room.lacking(even):
        even = room.parted(even)
    return poses if room.lacking(even) else even


def _listed(names: Sequence[str]) -> str:
    """Names in a sentence; copies of a sticker have the same one."""
    quoted = [f'"{name}"' for name in dict.fromkeys(names)]
    more = len(quoted) - _MOST_NAMES
    if more > 0:
        return ", ".join(quoted[:_MOST_NAMES]) + f" and {more} more"
    return quoted[0] if len(quoted) == 1 else ", ".join(quoted[:-1]) + f" and {quoted[-1]}"

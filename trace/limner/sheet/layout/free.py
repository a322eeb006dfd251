"""Stickers without a place: their outlines, and what placing them needs of those."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import shapely
from shapely import affinity

from limner.sheet.layout.pose import Pose
from limner.sheet.layout.spacing import Body, sample_body

__all__ = [
    "ROUNDING_MM",
    "FreeSticker",
    "Region",
    "all_scaled",
    "kinds",
    "sampled",
    "scaled",
    "simple",
    "turned",
]

Region = Any

ROUNDING_MM = 0.005
"""Distances may fall short by this much through rounding."""

# Outlines are simplified to this for spacing, not for the measurement.
_SPACING_DETAIL_MM = 0.01

# Larger outlines are not sampled ahead: most of them fit no sheet.
_LARGEST_AHEAD_MM = 400.0

# An outline at another scale is known to this: it is not fitted.
_SCALED_SPARE_MM = 0.1


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
    kind : str or None
        What it is a copy of, in whatever size and colours; None: nothing else is like it.
    body : Body or None
        The outline sampled ahead as it stands, by `sampled`; None: it is sampled when it is placed.
    """

    name: str
    outline: Region
    turn_deg: float = 0.0
    margin_mm: float = 0.0
    kind: str | None = None
    body: Body | None = None


def sampled(sticker: FreeSticker) -> FreeSticker:
    """The sticker with what placing it takes most time for, so that this can be done ahead."""
    x0, y0, x1, y1 = shapely.bounds(sticker.outline)
    if max(x1 - x0, y1 - y0) > _LARGEST_AHEAD_MM:
        return sticker
    return replace(sticker, body=sample_body(simple(sticker, 0.0)))


def scaled(sticker: FreeSticker, scale: float) -> FreeSticker:
    """The sticker with its art at another scale and its cut line at the same distance."""
    core = shapely.buffer(sticker.outline, -sticker.margin_mm)
    core = max(shapely.get_parts(core), key=shapely.area, default=shapely.Point(0, 0))
    margin = sticker.margin_mm + (_SCALED_SPARE_MM if sticker.margin_mm else 0.0)
    outline = shapely.buffer(affinity.scale(core, scale, scale, origin=(0, 0)), margin)
    return replace(sticker, outline=outline, body=None)


def kinds(stickers: Sequence[FreeSticker]) -> list[FreeSticker]:
    """One sticker of each outline: copies share one."""
    return list({(id(s.outline), s.turn_deg): s for s in stickers}.values())


def all_scaled(stickers: Sequence[FreeSticker], scale: float) -> list[FreeSticker]:
    """As `scaled`; what shared an outline still does."""
    made = {(id(s.outline), s.margin_mm): scaled(s, scale) for s in kinds(stickers)}
    return [replace(s, outline=made[id(s.outline), s.margin_mm].outline, body=None) for s in stickers]


def turned(stickers: Sequence[FreeSticker], poses: Sequence[Pose]) -> list[Region]:
    """Outlines turned, about their own origins."""
    return [
        affinity.rotate(sticker.outline, pose.turn_deg, origin=(0, 0))
        for sticker, pose in zip(stickers, poses, strict=True)
    ]


def simple(sticker: FreeSticker, turn_deg: float) -> Region:
    """An outline as it is spaced."""
    return shapely.simplify(affinity.rotate(sticker.outline, turn_deg, origin=(0, 0)), _SPACING_DETAIL_MM)

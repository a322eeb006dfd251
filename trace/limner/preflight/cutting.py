"""Checks of what the blade does: cut lines, their distances, and where they lie on the sheet."""

import re
from collections.abc import Iterator

import numpy as np
import shapely

from limner.model.colour import RESERVED_SEPARATIONS
from limner.model.finding import Finding
from limner.preflight.survey.places import Place, middle_of, place
from limner.preflight.survey.sheet import LetteringSurvey, StickerSurvey, Survey, shortest_way, shown

__all__ = [
    "check_anything_to_cut",
    "check_art_inside_cut",
    "check_cut_closed",
    "check_cut_distance",
    "check_cut_gaps",
    "check_cut_hollows",
    "check_cut_necks",
    "check_cut_nodes",
    "check_lettering_cut",
    "check_letterings_on_sheet",
    "check_separation_name",
    "check_stickers_on_sheet",
]

# Below what a hand on the ruler sees; keeps rounding from crossing a limit.
_ROUNDING_MM = 0.01
# Thickness of a sliver that the rounding of arcs leaves: less than this is no hollow.
_SLIVER_MM = 0.01
_ARC_SEGMENTS = 32
# ISO 32000-1, annex C.2: the longest name.
_LONGEST_NAME_BYTES = 127
# Signs by which PostScript ends or begins something (PostScript Language Reference, 3.2.2, from memory).
_SIGNS = re.compile(r"[()<>\[\]{}/%#]")
# What is left of a spike is no part of a sticker that anybody misses.
_SPECK_MM2 = 0.5
# What lies within this of a polygon leaves no sliver beside it; found out ten times as fast as the sliver is.
_NARROW_MM = 0.9 * _SLIVER_MM


def check_anything_to_cut(survey: Survey) -> Iterator[Finding]:
    """A sheet without stickers is a mistake."""
    if not survey.stickers:
        yield Finding("error", "sheet-empty", None, "The sheet holds no sticker; add one to the job.")


def check_cut_closed(survey: Survey) -> Iterator[Finding]:
    """Every cut line is closed and does not cross itself."""
    for item in survey.stickers:
        path = item.sticker.cut.path
        if not path.closed:
            text = f"The cut line of {item.name} is open, so the sticker would not come off; close its path."
            yield Finding("error", "cut-open", place(*path.segments[-1, 3]), text)
        reason = shapely.is_valid_reason(shapely.Polygon(item.cut_ring))
        if reason != "Valid Geometry":
            found = re.search(r"\[(\S+) (\S+)\]", reason)
            where = place(float(found[1]), float(found[2])) if found else middle_of(item.cut_ring)
            text = (
                f"The cut line of {item.name} crosses itself; raise its smallest radius or change its form."
            )
            yield Finding("error", "cut-crosses-itself", where, text)


def check_art_inside_cut(survey: Survey) -> Iterator[Finding]:
    """All of a sticker's art lies inside its cut line."""
    for item in survey.stickers:
        if item.art.is_empty:
            text = (
                f"The cut line of {item.name} goes around nothing; check its sketch or take it off the sheet."
            )
            yield Finding("error", "cut-around-nothing", middle_of(item.cut_polygon), text)
        elif len(item.art_outside):
            text = (
                f"Art of {item.name} lies under no cut line and would be lost; let its cut line go around it."
            )
            yield Finding("error", "art-outside-cut", place(*item.art_outside[0]), text)


def check_cut_distance(survey: Survey) -> Iterator[Finding]:
    """No cut line is nearer to its art than asked, measured anew."""
    for item in survey.stickers:
        if item.nearest is None or len(item.art_outside):
            continue
        cut, found = item.sticker.cut, item.nearest.length
        if found < cut.asked_mm - survey.settings.cut_tolerance_mm:
            text = (
                f"The cut line of {item.name} comes within {found:.2f} mm of the art, nearer than the "
                f"{cut.asked_mm:g} mm asked for; give it a larger distance or another form."
            )
            yield Finding("error", "cut-too-near", _middle_of_way(item.nearest), text)
        elif found < survey.settings.least_cut_clearance_mm - survey.settings.cut_tolerance_mm:
            text = (
                f"The cut line of {item.name} comes within {found:.2f} mm of the art, and a blade wanders by "
                "half a millimetre; ask for a distance of "
                f"{survey.settings.least_cut_clearance_mm:g} mm or more."
            )
            yield Finding("warning", "cut-near", _middle_of_way(item.nearest), text)


def _middle_of_way(way: shapely.LineString) -> Place:
    middle = way.interpolate(0.5, normalized=True)
    return place(middle.x, middle.y)


def check_cut_necks(survey: Survey) -> Iterator[Finding]:
    """No sticker hangs together by a neck so narrow that it tears as it is peeled off."""
    least = survey.settings.least_neck_mm
    for item in survey.stickers:
        if not item.is_sound:
            continue
        # A hundredth less, so that a neck of exactly the smallest width holds.
        parts = shapely.get_parts(item.cut_polygon.buffer(_ROUNDING_MM - least / 2, _ARC_SEGMENTS))
        parts = [part for part in parts if part.area > _SPECK_MM2]
        if len(parts) < 2:
            continue
        smallest = min(parts, key=lambda part: float(part.area))
        rest = shapely.union_all([part for part in parts if part is not smallest])
        text = (
            f"The cut line of {item.name} leaves a neck narrower than {least:g} mm, where the sticker tears; "
            "give it a larger distance, or a wider neck."
        )
        yield Finding("warning", "cut-neck-thin", _middle_of_way(shapely.shortest_line(smallest, rest)), text)


def check_cut_hollows(survey: Survey) -> Iterator[Finding]:
    """No inner corner of a cut line is tighter than the smallest radius: a blade tears there."""
    for item in survey.stickers:
        radius = item.sticker.cut.smallest_radius_mm - survey.settings.cut_tolerance_mm
        if radius <= 0 or not item.is_sound:
            continue
        filled = item.cut_polygon.buffer(radius, _ARC_SEGMENTS).buffer(-radius, _ARC_SEGMENTS)
        if shapely.covers(item.cut_polygon.buffer(_NARROW_MM, 1), filled):
            continue
        corners = filled.difference(item.cut_polygon).buffer(-_SLIVER_MM)
        if not corners.is_empty:
            largest = max(shapely.get_parts(corners), key=lambda part: float(part.area))
            text = (
                f"The cut line of {item.name} has an inner corner tighter than the smallest radius of "
                f"{item.sticker.cut.smallest_radius_mm:g} mm, where the blade tears the paper; "
                "give it a larger distance or a simpler form."
            )
            yield Finding("error", "cut-corner-tight", middle_of(largest), text)


def check_cut_nodes(survey: Survey) -> Iterator[Finding]:
    """A cut line has few nodes: a blade stutters where they crowd."""
    for item in survey.stickers:
        cut, settings = item.sticker.cut, survey.settings
        most = settings.cut_nodes_free + settings.cut_nodes_per_cm * item.cut_ring.length / 10.0
        if cut.path.node_count > most:
            text = (
                f"The cut line of {item.name} has {cut.path.node_count} nodes where {int(most)} would do, "
                "and a blade stutters over crowded nodes; raise its smallest radius or choose a simpler form."
            )
            yield Finding("warning", "cut-nodes-many", place(*cut.path.segments[0, 0]), text)


def check_cut_gaps(survey: Survey) -> Iterator[Finding]:
    """Neighbouring cut lines neither cross nor come nearer than the gap."""
    polygons = [item.cut_polygon for item in survey.stickers]
    if len(polygons) < 2:
        return
    settings = survey.settings
    reach = max(survey.sheet.gap_mm - _ROUNDING_MM, settings.crossing_gap_mm, settings.least_gap_mm)
    first, second = shapely.STRtree(polygons).query(polygons, predicate="dwithin", distance=reach)
    for a, b in sorted((int(a), int(b)) for a, b in zip(first, second, strict=True) if a < b):
        yield from _gap(survey, survey.stickers[a], survey.stickers[b])


def _gap(survey: Survey, one: StickerSurvey, other: StickerSurvey) -> Iterator[Finding]:
    way = shortest_way(one.cut_ring, other.cut_ring)
    shared = one.cut_polygon.intersection(other.cut_polygon)
    if way.length < survey.settings.crossing_gap_mm or not shared.is_empty:
        where = place(*way.coords[0]) if shared.is_empty else middle_of(shared)
        text = f"The cut lines of {one.name} and {other.name} cross or touch; move the stickers apart."
        yield Finding("error", "cuts-cross", where, text)
    elif way.length < survey.sheet.gap_mm - _ROUNDING_MM:
        text = (
            f"The cut lines of {one.name} and {other.name} are {way.length:.2f} mm apart, less than the gap "
            f"of {survey.sheet.gap_mm:g} mm; move the stickers apart."
        )
        yield Finding("warning", "cut-gap-small", _middle_of_way(way), text)
    elif way.length < survey.settings.least_gap_mm - _ROUNDING_MM:
        text = (
            f"The cut lines of {one.name} and {other.name} are only {way.length:.2f} mm apart, and what is "
            f"between them lifts off with the blade; keep {survey.settings.least_gap_mm:g} mm or more."
        )
        yield Finding("warning", "cut-gap-narrow", _middle_of_way(way), text)


def check_stickers_on_sheet(survey: Survey) -> Iterator[Finding]:
    """Cut lines lie on the trimmed sheet and keep the safe margin."""
    for item in survey.stickers:
        found = _beyond(item.cut_ring, survey)
        if found is not None:
            off, where, distance = found
            if off:
                text = (
                    f"The sticker {item.name} runs {distance:.2f} mm beyond the trim; "
                    "move it inwards or make it smaller."
                )
                yield Finding("error", "sticker-off-sheet", where, text)
            else:
                text = (
                    f"The cut line of {item.name} lies {distance:.2f} mm from the trim, {_margin(survey)}; "
                    "move it inwards."
                )
                yield Finding("warning", "sticker-near-trim", where, text)


def check_letterings_on_sheet(survey: Survey) -> Iterator[Finding]:
    """Lettering lies on the trimmed sheet and keeps the safe margin."""
    for item in survey.letterings:
        found = None if item.outlines.is_empty else _beyond(item.outlines, survey)
        if found is not None:
            off, where, distance = found
            if off:
                text = (
                    f"The lettering {item.name} runs {distance:.2f} mm beyond the trim and would be cut off; "
                    "move it inwards or make it smaller."
                )
                yield Finding("error", "lettering-off-sheet", where, text)
            else:
                text = (
                    f"The lettering {item.name} lies {distance:.2f} mm from the trim, {_margin(survey)}; "
                    "move it inwards."
                )
                yield Finding("warning", "lettering-near-trim", where, text)


def _margin(survey: Survey) -> str:
    safe, least = survey.sheet.page.safe_mm, survey.settings.least_safe_mm
    if safe >= least:
        return f"inside the safe margin of {safe:g} mm"
    return f"where a cutter that is off by as much meets it; {least:g} mm are the least that is safe"


def _beyond(geometry: shapely.Geometry, survey: Survey) -> tuple[bool, Place, float] | None:
    """Whether geometry runs off the trim, the point farthest out, and its distance from the trim."""
    points = shapely.get_coordinates(geometry)
    x0, y0, x1, y1 = survey.sheet.page.trim_box
    inside = np.min(np.concatenate([points - (x0, y0), (x1, y1) - points], axis=1), axis=1)
    index = int(np.argmin(inside))
    least = float(inside[index])
    if least >= max(survey.sheet.page.safe_mm, survey.settings.least_safe_mm) - _ROUNDING_MM:
        return None
    return least < -_ROUNDING_MM, place(*points[index]), abs(least)


def check_lettering_cut(survey: Survey) -> Iterator[Finding]:
    """No cut line runs through lettering."""
    for piece in survey.letterings:
        for item in survey.stickers:
            crossing = _crossing(piece, item)
            if crossing is not None:
                text = (
                    f"The cut line of {item.name} runs through the lettering {piece.name}; "
                    "move one of them, or make the lettering smaller."
                )
                yield Finding("error", "lettering-cut", crossing, text)


def _crossing(piece: LetteringSurvey, item: StickerSurvey) -> Place | None:
    shapely.prepare(piece.outlines)
    if piece.outlines.is_empty or not shapely.intersects(piece.outlines, item.cut_ring):
        return None
    points = shapely.get_coordinates(piece.outlines.intersection(item.cut_ring))
    return place(*points[0])


def check_separation_name(survey: Survey) -> Iterator[Finding]:
    """Every separation has a name that presses take for one, and another than the others."""
    sheet = survey.sheet
    names = [sheet.separation.name]
    names += [] if sheet.partial is None else [sheet.partial.name]
    names += [] if sheet.white is None else [sheet.white.separation.name]
    for name in dict.fromkeys(names):
        yield from _name_findings(name)
        if names.count(name) > 1:
            text = (
                f"Two separations are called {shown(name)}, so that a press or a blade cannot tell them "
                "apart; give each a name of its own."
            )
            yield Finding("error", "separation-twice", None, text)


def _name_findings(name: str) -> Iterator[Finding]:
    if not name.strip() or "\0" in name or name.strip().lower() in RESERVED_SEPARATIONS:
        text = (
            f'A separation may not be called "{name.strip()}", which means something else on a press; '
            ' give it a name of its own, such as "Cutting".'
        )
        yield Finding("error", "separation-reserved", None, text)
    elif len(name.encode()) > _LONGEST_NAME_BYTES:
        text = (
            f"The name of the separation {shown(name)} is longer than the {_LONGEST_NAME_BYTES} letters that "
            'a PDF may hold; give it a short one, such as "Cutting".'
        )
        yield Finding("error", "separation-long", None, text)
    elif not (name.isascii() and name.isprintable()) or name != name.strip() or _SIGNS.search(name):
        text = (
            f'The name of the separation "{name}" has letters or signs that some presses misread; '
            "spell it in plain Latin letters, or ask the printing company."
        )
        yield Finding("warning", "separation-letters", None, text)

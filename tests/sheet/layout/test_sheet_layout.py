import os
import subprocess
import sys
import time
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from helpers_cut import regular, ten_irregular
from limner.errors import GeometryError
from limner.sheet.layout.arrange import place_free, try_places
from limner.sheet.layout.free import FreeSticker, scaled
from limner.sheet.layout.packing import pack
from limner.sheet.layout.scale import largest_scale
from limner.sheet.settings import LayoutSettings

# A6 with a safe margin of 4 mm, in sheet coordinates with a bleed of 3 mm.
SAFE = (7.0, 7.0, 104.0, 147.0)
TITLE = shapely.box(25, 9, 86, 20)
SAFE_AREA = 97.0 * 140.0


def stickers(shapes, share, turn_deg=0.0):
    """Stickers whose cut outlines take up a share of the safe area."""
    scale = np.sqrt(share * SAFE_AREA / sum(shape.area for shape in shapes))
    return [
        FreeSticker(f"s{i}", affinity.scale(shape, scale, scale, origin=(0, 0)), turn_deg)
        for i, shape in enumerate(shapes)
    ]


def placed(items, poses):
    turned = [
        affinity.rotate(item.outline, pose.turn_deg, origin=(0, 0))
        for item, pose in zip(items, poses, strict=True)
    ]
    return [affinity.translate(t, pose.x, pose.y) for t, pose in zip(turned, poses, strict=True)]


def check(items, poses, obstacles=(), gap=2.0, box=SAFE):
    """Every distance, measured by shapely."""
    regions = placed(items, poses)
    for one, other in combinations([*regions, *obstacles], 2):
        if one in obstacles and other in obstacles:
            continue
        assert one.distance(other) >= gap - 0.01
    bounds = np.array([region.bounds for region in regions])
    assert (bounds[:, :2] >= np.array(box[:2]) - 0.01).all()
    assert (bounds[:, 2:] <= np.array(box[2:]) + 0.01).all()


@pytest.mark.parametrize(("share", "turn_deg"), [(0.2, 0.0), (0.45, 0.0), (0.45, 15.0)])
def test_all_distances_are_kept_around_the_title(share, turn_deg):
    items = stickers(ten_irregular(0), share, turn_deg)
    poses = place_free(items, SAFE, [TITLE], LayoutSettings())
    check(items, poses, [TITLE])
    assert all(abs(pose.turn_deg) <= turn_deg for pose in poses)


def test_stickers_stay_upright_where_there_is_room():
    items = stickers(ten_irregular(1), 0.3, 180.0)
    assert [pose.turn_deg for pose in place_free(items, SAFE, [], LayoutSettings())] == [0.0] * 10


def test_what_fits_only_when_turned_is_turned():
    stripe = shapely.box(-60, -5, 60, 5)
    assert try_places([FreeSticker("eel", stripe, 0.0)], SAFE, [], LayoutSettings())[1] == [0]
    items = [FreeSticker("eel", stripe, 180.0)]
    check(items, place_free(items, SAFE, [], LayoutSettings()))


def test_free_space_is_shared_out_evenly():
    items = [FreeSticker(f"s{i}", shapely.Polygon(regular(40, 12))) for i in range(6)]
    regions = placed(items, place_free(items, SAFE, [], LayoutSettings()))
    gaps = [min(a.distance(b) for b in regions if b is not a) for a in regions]
    # Six discs of 24 mm in 97 mm x 140 mm: two columns, three rows, with about 15 mm in between.
    assert min(gaps) > 8.0


def test_what_does_not_fit_is_named_with_the_scale_that_would():
    items = stickers(ten_irregular(2), 0.95)
    with pytest.raises(GeometryError, match=r'no room for .*"s\d"; at \d+ percent') as caught:
        place_free(items, SAFE, [], LayoutSettings(rounds=20, starts=1))
    percent = int(str(caught.value).split(" at ")[1].split()[0])
    scaled = [
        FreeSticker(item.name, affinity.scale(item.outline, percent / 100, percent / 100, origin=(0, 0)))
        for item in items
    ]
    check(scaled, place_free(scaled, SAFE, [], LayoutSettings()))


def test_a_sticker_larger_than_the_sheet_is_named():
    items = [
        FreeSticker("whale", shapely.box(-80, -80, 80, 80)),
        FreeSticker("shrimp", shapely.box(-4, -4, 4, 4)),
    ]
    with pytest.raises(GeometryError, match=r'no room for "whale"; at [56][0-9] percent'):
        place_free(items, SAFE, [], LayoutSettings())


def test_no_room_at_all_says_so():
    with pytest.raises(GeometryError, match="even much smaller"):
        place_free(stickers(ten_irregular(0), 0.3), SAFE, [shapely.box(*SAFE)], LayoutSettings(starts=1))


def test_no_stickers_need_no_places():
    assert place_free([], SAFE, [], LayoutSettings()) == []


@pytest.mark.slow
def test_ten_irregular_shapes_use_65_percent_of_the_safe_area():
    used = []
    for seed in (0, 1):
        items = stickers(ten_irregular(seed), 0.9, 180.0)
        scale = largest_scale(items, SAFE, [], LayoutSettings())
        used.append(0.9 * scale**2)
    assert min(used) >= 0.65, used


SCRIPT = """
import sys
sys.path.insert(0, sys.argv[1])
from test_sheet_layout import SAFE, TITLE, stickers, ten_irregular, place_free, LayoutSettings
print(place_free(stickers(ten_irregular(3), 0.5, 15.0), SAFE, [TITLE], LayoutSettings()))
"""


def test_places_do_not_depend_on_cores_or_hash_seed():
    answers = set()
    for threads, seed in (("1", "0"), ("2", "77")):
        environment = {
            "OMP_NUM_THREADS": threads,
            "OPENBLAS_NUM_THREADS": threads,
            "PYTHONHASHSEED": seed,
            "PYTHONPATH": os.pathsep.join([str(Path(__file__).parents[2]), *sys.path]),
        }
        run = subprocess.run(
            [sys.executable, "-c", SCRIPT, str(Path(__file__).parent)],
            env=environment,
            capture_output=True,
            text=True,
            check=True,
        )
        answers.add(run.stdout)
    assert len(answers) == 1


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 1000), st.floats(0.05, 0.5), st.integers(1, 10), st.floats(0.0, 4.0))
def test_whatever_is_placed_keeps_its_distances(seed, share, count, gap):
    items = stickers(ten_irregular(seed)[:count], share * count / 10, 30.0)
    poses, lacking = try_places(items, SAFE, [TITLE], LayoutSettings(gap_mm=gap, starts=1))
    kept = [i for i in range(count) if i not in lacking]
    check([items[i] for i in kept], [poses[i] for i in kept], [TITLE], gap)


def test_the_coarse_search_reports_what_still_overlaps():
    squares = [shapely.box(-6, -6, 6, 6)] * 3
    _, free = pack(squares, [[0.0]] * 3, (0, 0, 40, 14), shapely.Polygon(), sweeps=20)
    assert not free.any()
    _, tight = pack(squares, [[0.0]] * 3, (0, 0, 30, 14), shapely.Polygon(), sweeps=20)
    assert tight.any()


def squares(count, side):
    return [FreeSticker(f"s{i}", shapely.box(-side / 2, -side / 2, side / 2, side / 2)) for i in range(count)]


def test_twelve_squares_that_fit_as_three_by_four_to_a_hair_are_placed():
    # 3 x 31 + 2 x 2 = 97, the width of the safe part.
    items = squares(12, 31.0)
    check(items, place_free(items, SAFE, [], LayoutSettings(rounds=2, starts=1)))


def test_an_impossible_job_is_refused_at_once_and_names_five_at_most():
    items = squares(80, 30.0)
    start = time.process_time()
    with pytest.raises(
        GeometryError, match=r'room for "s0", "s1", .* and \d+ more; at (\d+) percent'
    ) as caught:
        place_free(items, SAFE, [], LayoutSettings())
    assert time.process_time() - start < 20.0
    assert str(caught.value).count('"') == 10


def test_what_fits_only_between_the_steps_of_rotation_is_turned():
    # The diagonal of 97 x 140 mm is 170 mm long; this stripe fits at 55 degrees, but at no multiple of 22.5.
    stripe = FreeSticker("eel", shapely.box(-78, -2, 78, 2), 180.0)
    (pose,) = place_free([stripe], SAFE, [], LayoutSettings())
    check([stripe], [pose])
    assert abs(pose.turn_deg % 22.5) > 0.1


def test_the_scale_leaves_the_distance_of_the_cut_line_as_it_is():
    disc = FreeSticker("disc", shapely.Point(0, 0).buffer(10, 64), 0.0, 2.5)
    half = scaled(disc, 0.5)
    # Half of 7.5 mm, 2.5 mm around it, and what the fit of the cut line may take.
    assert half.outline.bounds[2] == pytest.approx(7.5 / 2 + 2.5, abs=0.11)
    assert half.outline.bounds[2] >= 7.5 / 2 + 2.5


def test_sparse_stickers_are_spread_over_a_large_sheet():
    box = (0.0, 0.0, 290.0, 410.0)
    items = squares(6, 30.0)
    regions = placed(items, place_free(items, box, [], LayoutSettings()))
    gaps = [min(a.distance(b) for b in regions if b is not a) for a in regions]
    # Two columns and three rows of equal fields leave some 100 mm between them; half of that is spread.
    assert min(gaps) > 50.0

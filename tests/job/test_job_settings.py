import shutil
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from helpers_job import CONTRACT_JOB, write_job
from limner.errors import InputError
from limner.job import ZoneTable, load_job, zone_value
from limner.job.palette import job_palette, job_press
from limner.job.settings import (
    job_letterings,
    preflight_settings,
    sheet_settings,
    sticker_settings,
)
from limner.preflight import PreflightSettings
from limner.sheet.settings import CutSettings

PLAIN = CONTRACT_JOB.replace('[print]\nprofile = "press.icc"\n', "")
GHOSTSCRIPT = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")


def test_a_sticker_gets_its_settings_in_sheet_coordinates(tmp_path):
    job = load_job(write_job(tmp_path, PLAIN))
    settings = sticker_settings(job, job.stickers[0], job_palette(job, job_press(job)))
    # Counted from the trim's corner in the job, from the bleed's corner on the sheet.
    assert settings.at_mm == (33.0, 43.0)
    assert settings.cut == CutSettings(2.5, ("ellipse",), 1.0, None, 3.0)
    assert (settings.width_mm, settings.turn_deg, settings.px_per_mm) == (38.0, 0.0, None)
    assert (settings.depth, settings.ground) == ("through", None)


def test_the_sheet_gets_its_settings(tmp_path):
    job = load_job(write_job(tmp_path, PLAIN))
    settings = sheet_settings(job, job_palette(job, job_press(job)))
    assert settings.background.screen == "#ecd9bf"
    assert settings.separation == "Cutting"
    assert settings.layout.gap_mm == 2.0
    assert settings.profile is None
    (title,) = settings.letterings
    assert (title.name, title.text, title.font) == ("lettering-1", "Tide Pool", "Fredoka One")
    assert title.colour.cmyk == (0, 0, 0, 100)
    x0, _, x1, _ = title.box
    assert (x0 + x1) / 2 == pytest.approx(52.5 + 3.0, abs=0.5)


def test_the_profile_is_read_or_refused_with_its_line(tmp_path):
    job = load_job(write_job(tmp_path))
    with pytest.raises(InputError, match=r'tide-pool.toml, line 21: "press.icc" is not an ICC profile'):
        job_press(job)
    if not GHOSTSCRIPT.exists():
        pytest.skip("no CMYK profile is installed (Debian package libgs-common brings one)")
    shutil.copy(GHOSTSCRIPT, tmp_path / "press.icc")
    assert job_press(job).is_calibrated


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"Tide Pool"', '"\u6f6e"', r"line 45: The font Fredoka One has no letters for"),
        ('size = "16 pt"', 'size = "16 pt"\nfont = "crab.jpg"', r'line 45: "crab.jpg" is not a usable font'),
        ('size = "16 pt"', 'size = "16 pt"\narc = "3 mm"', "line 45: .* does not fit on its arc"),
    ],
)
def test_lettering_that_cannot_be_set_names_its_line(tmp_path, old, new, said):
    job = load_job(write_job(tmp_path, PLAIN.replace(old, new)))
    with pytest.raises(InputError, match=said):
        job_letterings(job, job_palette(job, job_press(job)))


def test_zones_become_rings_in_millimetres(tmp_path):
    box = zone_value(ZoneTable(box=[0.1, 0.2, 0.5, 0.4], nodes=5), 200, 100, folder=tmp_path)
    assert box.rings[0].tolist() == [[20, 20], [100, 20], [100, 40], [20, 40]]
    assert (box.nodes, box.smoothing_mm) == (5, None)
    ellipse = zone_value(ZoneTable(ellipse=[0.0, 0.0, 1.0, 0.5], smoothing=1), 200, 100, folder=tmp_path)
    x, y = (ellipse.rings[0] - [100, 25]).T
    assert np.hypot(x / 100, y / 25) == pytest.approx(np.ones(len(x)))
    corners = [[0, 0], [1, 0], [0, 1]]
    polygon = zone_value(ZoneTable(polygon=corners, nodes=5), 200, 100, folder=tmp_path)
    assert polygon.rings[0].tolist() == [[0, 0], [200, 0], [0, 100]]


def test_a_zone_names_an_area(tmp_path):
    ring = np.array([[0.0, 0.0], [5.0, 0.0], [0.0, 5.0]])
    table = ZoneTable(area="shell", nodes=5)
    assert (
        zone_value(table, 9, 9, folder=tmp_path, areas={"shell": (ring,)}).rings[0].tolist() == ring.tolist()
    )
    with pytest.raises(InputError, match='zone 2 names the area "shell"'):
        zone_value(table, 9, 9, folder=tmp_path, areas={}, name="zone 2")


def test_a_painted_mask_becomes_its_outline(tmp_path):
    pixels = np.full((100, 200), 255, np.uint8)
    pixels[20:60, 50:150] = 0
    pixels[30:40, 80:100] = 255
    Image.fromarray(pixels).save(tmp_path / "mask.png")
    zone = zone_value(ZoneTable(mask="mask.png", smoothing=1), 400, 200, folder=tmp_path)
    outer, inner = sorted(zone.rings, key=lambda ring: -np.ptp(ring[:, 0]))
    # Two millimetres a pixel; outlines run through the centres of the outermost pixels.
    assert (outer.min(axis=0), outer.max(axis=0)) == (
        pytest.approx([101, 41]),
        pytest.approx([299, 119]),
    )
    assert np.ptp(inner[:, 0]) == pytest.approx(42, abs=2)


@pytest.mark.parametrize("content", [b"", b"no picture", None])
def test_masks_that_cannot_be_used(tmp_path, content):
    path = tmp_path / "mask.png"
    if content is None:
        Image.new("L", (10, 10), 255).save(path)
    else:
        path.write_bytes(content)
    with pytest.raises(InputError, match=r"mask\.png"):
        zone_value(ZoneTable(mask="mask.png", nodes=9), 10, 10, folder=tmp_path)


def test_the_printing_companys_limits_reach_preflight(tmp_path):
    assert preflight_settings(load_job(write_job(tmp_path, PLAIN))) == PreflightSettings()
    limits = '[print]\nsmallest_text = "7 pt"\nsmallest_line = "0.2 mm"\nmost_ink = 280\n\n[[sticker]]'
    found = preflight_settings(load_job(write_job(tmp_path, PLAIN.replace("[[sticker]]", limits, 1))))
    # A point is 25.4 / 72 mm.
    assert found.smallest_text_mm == pytest.approx(7 * 25.4 / 72)
    assert (found.smallest_line_mm, found.heavy_ink, found.most_ink) == (0.2, 280, 280)
    with pytest.raises(InputError, match=r"most_ink of .print. is .30., but must be percent"):
        load_job(write_job(tmp_path, PLAIN.replace("[[sticker]]", limits.replace("280", "30"), 1)))

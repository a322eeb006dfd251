"""What each shape of a sticker prints in."""

from pathlib import Path

import pytest

from helpers_job import RING_JOB
from helpers_sketches import RING_AREAS, write_ring
from limner.job.load import load_job
from limner.pipeline.sheet.build import build_sheet

NIGHT = (80.0, 60.0, 0.0, 40.0)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_ring(tmp_path / "ring.png")
    return tmp_path


def colours(folder: Path, text: str) -> dict[str, tuple[float, ...]]:
    """Press values of the sticker's fills, by name."""
    (folder / "job.toml").write_text(text)
    (sticker,) = build_sheet(load_job(folder / "job.toml"), workers=1, keep=False).sheet.stickers
    assert {item.colour.cmyk for item in sticker.lines} == {NIGHT}
    areas = [item for item in sticker.fills if item.shape.role == "area"]
    assert len(areas) == RING_AREAS
    return {item.shape.name: item.colour.cmyk for item in areas}


@pytest.mark.parametrize("area", ["", '\n  [[sticker.area]]\n  at = [0.5, 0.5]\n  name = "pearl"\n'])
def test_what_lies_inside_of_a_solid_black_prints_in_its_ink(folder: Path, area: str) -> None:
    """Named or not: a tint would be ink wasted, and would show beside the black out of register."""
    job = "[colours]\nnight = { cmyk = [80, 60, 0, 40] }\n" + RING_JOB + 'ink = "night"\n'
    found = sorted(colours(folder, job + area).values(), key=sum)
    assert found[-1] == NIGHT
    # The inside of the ring, on white paper, gets a tint.
    assert found[0] != NIGHT
    assert sum(found[0]) < 100


def test_a_colour_that_the_job_gives_it_is_kept(folder: Path) -> None:
    job = "[colours]\nnight = { cmyk = [80, 60, 0, 40] }\n" + RING_JOB + 'ink = "night"\n'
    job += '\n  [[sticker.area]]\n  at = [0.5, 0.5]\n  name = "pearl"\n  fill = "white"\n'
    assert colours(folder, job)["pearl"] == (0.0, 0.0, 0.0, 0.0)

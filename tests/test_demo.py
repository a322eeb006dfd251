from pathlib import Path

import pytest

from limner.demo import demo_files, write_demo
from limner.errors import OutputError
from limner.job import load_job
from limner.model.sheet import Page

FIXTURES = Path(__file__).parents[1] / "fixtures"


def test_the_demo_is_a_complete_job(tmp_path):
    job = load_job(write_demo(tmp_path / "new" / "folder"))
    assert job.page() == Page(105.0, 148.0, 3.0, 4.0, "A6")
    assert 6 <= len(job.stickers) <= 8
    assert [s.name for s in job.stickers if s.mirror] == ["diver"]
    assert sum(len(sticker.area) for sticker in job.stickers) >= 20
    assert {table.text for table in job.tables.lettering} >= {"Tide Pool"}
    for sticker in job.stickers:
        assert job.sketch_path(sticker).stat().st_size > 10_000


def test_the_demo_is_small_and_its_sketches_are_the_fixtures():
    files = demo_files()
    assert sum(map(len, files.values())) < 2_000_000
    for name, data in files.items():
        if name.endswith(".jpg"):
            assert (FIXTURES / name).read_bytes() == data


def test_nothing_is_overwritten(tmp_path):
    (tmp_path / "crab.jpg").write_bytes(b"mine")
    with pytest.raises(OutputError, match=r"crab\.jpg.* already there"):
        write_demo(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["crab.jpg"]


def test_a_folder_that_cannot_be_made_leaves_nothing(tmp_path):
    (tmp_path / "file").touch()
    for place in (tmp_path / "file" / "inside", tmp_path / "nul\0byte"):
        with pytest.raises(OutputError):
            write_demo(place)
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


WHAT_IS_NEEDED = 'sketch = "crab.jpg"\nwidth = "30 mm"'


def test_the_keys_that_it_only_mentions_are_right_too(tmp_path: Path) -> None:
    job = write_demo(tmp_path / "demo")
    _, mentioned = job.read_text(encoding="utf-8").split("# More keys than this sheet needs")
    lines = [line.removeprefix("#").removeprefix(" ") for line in mentioned.splitlines()[1:]]
    stickers = iter(
        [
            'name = "small"\nwidth = "20 mm"',
            'name = "kelp"\nwidth = "20 mm"',
            f'name = "all"\n{WHAT_IS_NEEDED}',
        ]
    )
    needed = {
        "[[lettering]]": lambda: 'text = "Tide Pool"\nsize = "8 pt"\nat = ["50 mm", "20 mm"]',
        "[[sticker]]": lambda: next(stickers),
        "[[sticker.area]]": lambda: "at = [0.5, 0.5]",
    }
    text = ['colours = { deep = "#223355" }']
    for line in lines:
        text.append(line)
        text.append(needed.get(line.split("#")[0].strip(), str)())
    text.append(f'[[sticker]]\nname = "crab"\n{WHAT_IS_NEEDED}')
    # The two files that the demo does not bring.
    (tmp_path / "demo" / "kelp.svg").write_text("<svg/>", encoding="utf-8")
    complete = "\n".join(entry for entry in text if not entry.startswith("font ="))
    (tmp_path / "demo" / "all.toml").write_text(complete, encoding="utf-8")
    small, kelp, sticker, _ = load_job(tmp_path / "demo" / "all.toml").stickers
    assert (small.copies, small.sketch, kelp.art) == (3, "crab.jpg", "kelp.svg")
    assert (sticker.turn, sticker.nodes, sticker.lines, sticker.paper) == (0, 220, "even", "A5")
    assert [touch.kind for touch in sticker.touch] == ["draw", "rub", "part", "pull", "open", "corner"]
    assert sticker.area[0].skip
    assert sticker.zone[0].smoothing == 0.05

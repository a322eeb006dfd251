"""The sheet on the desk is the one that the command makes."""

import math
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from helpers_job import RING_JOB
from helpers_sketches import write_ring
from limner.cli.main import main
from limner.desk.work.tasks import SheetTask
from limner.desk.work.worker import Draughtsman
from limner.pipeline import SHEET_FILES

SECOND = '\n[[sticker]]\nname = "other"\nsketch = "ring.png"\nwidth = "20 mm"\ncopies = 2\n'
TITLE = '\n[[lettering]]\ntext = "Tide"\nsize = "16 pt"\nat = ["50 mm", "12 mm"]\n'


@pytest.fixture
def job(tmp_path: Path) -> Path:
    write_ring(tmp_path / "ring.png")
    path = tmp_path / "ring.toml"
    path.write_text(RING_JOB + SECOND + TITLE)
    return path


def asked(job: Path, **more: object) -> SheetTask:
    return replace(SheetTask(job, job.read_text(), ("ring", "other"), (), "t"), **more)


def tell(*_: object) -> None:
    pass


def test_places_count_from_the_trim_as_in_the_job(job: Path) -> None:
    sheet = Draughtsman().do(asked(job), tell).value
    assert sheet["page"] == {
        "width_mm": 105,
        "height_mm": 148,
        "bleed_mm": 3,
        "safe_mm": 4,
        "background": None,
    }
    assert [one["name"] for one in sheet["stickers"]] == ["ring", "other", "other-2"]
    ring = sheet["stickers"][0]
    assert (ring["x_mm"], ring["y_mm"], ring["width_mm"], ring["placed"]) == (50, 60, 30, True)
    # The cut line lies 2.5 mm out all round.
    ends = [tuple(map(float, pair)) for pair in re.findall(r"(-?[\d.]+) (-?[\d.]+)(?=[CLZ])", ring["d_cut"])]
    assert [math.hypot(x - 50, y - 60) for x, y in ends] == pytest.approx([17.5] * len(ends), abs=0.1)
    box = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', ring["svg"])
    assert float(box[1]) == pytest.approx(30, abs=0.01)
    assert sheet["lettering"][0]["text"] == "Tide"
    assert (sheet["lettering"][0]["x_mm"], sheet["lettering"][0]["y_mm"]) == (50, 12)
    assert sheet["waiting"] == []
    assert sheet["sentence"] is None


def test_stickers_that_wait_leave_the_others_with_their_places(job: Path) -> None:
    sheet = Draughtsman().do(asked(job, ready=("other",), waiting=("ring",)), tell).value
    assert sheet["waiting"] == ["ring"]
    assert [(one["name"], one["placed"]) for one in sheet["stickers"]] == [
        ("other", False),
        ("other-2", False),
    ]
    empty = Draughtsman().do(asked(job, ready=(), waiting=("ring", "other")), tell).value
    assert empty["stickers"] == []
    assert empty["page"]["width_mm"] == 105


def test_where_there_is_no_room_what_has_a_place_is_shown(job: Path) -> None:
    job.write_text(job.read_text().replace("copies = 2", "copies = 40"))
    sheet = Draughtsman().do(asked(job), tell).value
    assert "fit" in sheet["sentence"]
    assert [(one["name"], one["placed"]) for one in sheet["stickers"]] == [("ring", True)]


def test_a_cut_line_alone_is_that_of_the_sheet(job: Path) -> None:
    hand = Draughtsman()
    ring = hand.do(asked(job), tell).value["stickers"][0]
    cut = hand.do(asked(job, kind="cut", sticker="ring"), tell).value
    assert cut["sticker"] == "ring"
    on_sheet = [float(text) for text in re.findall(r"-?[\d.]+", ring["d_cut"])]
    alone = [float(text) for text in re.findall(r"-?[\d.]+", cut["d"])]
    assert alone[::2] == pytest.approx([x - 50 for x in on_sheet[::2]], abs=0.002)
    assert alone[1::2] == pytest.approx([y - 60 for y in on_sheet[1::2]], abs=0.002)
    other = hand.do(asked(job, kind="cut", sticker="ring", ready=()), tell)
    assert "not traced yet" in other.sentence


def test_the_files_are_those_of_the_command(job: Path, tmp_path: Path) -> None:
    steps: list[tuple[str, int, int]] = []
    told: Callable[[str, int, int], None] = lambda *step: steps.append(step)  # noqa: E731
    written = Draughtsman().do(asked(job, kind="write"), told).value
    assert set(written["files"]) == set(SHEET_FILES)
    assert written["files"][0] == "proof.png"
    assert (written["folder"], written["sentence"]) == ("sheet", None)
    assert [done for _, done, _ in steps] == sorted(done for _, done, _ in steps)
    assert steps[-1][1] == steps[-1][2]
    main(["sheet", str(job), "-o", str(tmp_path / "again")])
    for name in SHEET_FILES:
        assert (tmp_path / "sheet" / name).read_bytes() == (tmp_path / "again" / name).read_bytes()


def test_a_job_with_mistakes_is_shown_and_not_written(job: Path, tmp_path: Path) -> None:
    job.write_text(job.read_text().replace('width = "20 mm"', 'width = "wide"'))
    assert [one["name"] for one in Draughtsman().do(asked(job), tell).value["stickers"]] == ["ring"]
    refused = Draughtsman().do(asked(job, kind="write"), tell)
    assert refused.value is None
    assert "wide" in refused.sentence
    assert not (tmp_path / "sheet").exists()


def test_files_are_not_written_through_a_link(job: Path, tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "sheet").symlink_to(tmp_path / "elsewhere")
    refused = Draughtsman().do(asked(job, kind="write"), tell)
    assert "link" in refused.sentence
    assert not list((tmp_path / "elsewhere").iterdir())


def test_the_ground_of_a_sticker_lies_under_it_in_its_colour(job: Path) -> None:
    job.write_text(job.read_text().replace('name = "other"', 'name = "other"\nground = "#2a9d8f"', 1))
    ring, other, _ = Draughtsman().do(asked(job), tell).value["stickers"]
    assert ring["ground"] is None
    assert other["ground"]["fill"] == "#2a9d8f"
    ends = re.findall(r"(-?[\d.]+) (-?[\d.]+)(?=[CLZ])", other["ground"]["d"])
    reach = [math.hypot(float(x) - other["x_mm"], float(y) - other["y_mm"]) for x, y in ends]
    # Past the cut line, 2.5 mm outside of the art.
    assert min(reach) > other["width_mm"] / 2 + 2.5

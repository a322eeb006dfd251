"""Drawings are there at once the next time, unless something is amiss with them."""

from pathlib import Path

import pytest

from helpers_desk import QuietBench, open_client
from helpers_job import CONTRACT_JOB, write_job
from limner.desk.server.shelf import Shelf
from limner.desk.work.tasks import DrawTask


def opened(job: Path) -> list[str]:
    """Stickers that are drawn when the desk is opened; each of them is seen."""
    bench = QuietBench()
    with open_client(job, bench) as client:
        state = client.get("/state").json()
        for sticker in state["stickers"]:
            assert sticker["state"] == "ready"
            assert client.get(f"/stickers/{sticker['name']}/drawing").json()["token"] == sticker["token"]
            assert client.get(f"/stickers/{sticker['name']}/photograph").content == b"picture"
    return [task.sticker for task in bench.tasks if isinstance(task, DrawTask)]


def test_the_next_time_nothing_is_drawn(tmp_path: Path) -> None:
    job = write_job(tmp_path)
    assert opened(job) == ["crab"]
    assert opened(job) == []
    # Another colour asks for no other shapes, another width does.
    job.write_text(CONTRACT_JOB.replace('fill = "kelp"', 'fill = "ink"'))
    assert opened(job) == []
    job.write_text(CONTRACT_JOB.replace("38 mm", "39 mm"))
    assert opened(job) == ["crab"]
    (tmp_path / "crab.jpg").write_bytes(b"another one")
    assert opened(job) == ["crab"]


@pytest.mark.parametrize("ending", ["drawing", "page"])
@pytest.mark.parametrize("damage", [b"", b"nonsense", b"0" * 64 + b"\n{}", None])
def test_what_is_damaged_is_drawn_anew(tmp_path: Path, ending: str, damage: bytes | None) -> None:
    job = write_job(tmp_path)
    opened(job)
    (kept,) = (tmp_path / ".limner-cache").glob(f"*.{ending}")
    if damage is None:
        other = tmp_path / "elsewhere"
        kept.rename(other)
        kept.symlink_to(other)
    else:
        kept.write_bytes(damage)
    assert opened(job) == ["crab"]
    assert opened(job) == []


def test_those_used_last_are_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("limner.desk.server.shelf._MOST", 2)
    shelf = Shelf(tmp_path / "kept")
    for number in range(4):
        shelf.put(f"form{number}", b"{}", f"page {number}".encode())
    assert [shelf.take(f"form{number}") is not None for number in range(4)] == [False, False, True, True]
    assert shelf.take("form3") == (b"{}", b"page 3")
    assert len(list((tmp_path / "kept").iterdir())) == 4

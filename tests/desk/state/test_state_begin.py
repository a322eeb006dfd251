"""Which job the desk opens: the one that is meant, or a new one."""

from pathlib import Path

import pytest
from PIL import Image

from helpers_job import write_job
from limner.desk.state.begin import begin
from limner.errors import InputError, OutputError
from limner.job import load_job


def draw(path: Path) -> Path:
    Image.new("L", (80, 80), 255).save(path)
    return path


def names(begun) -> list[str]:
    return [sticker["name"] for sticker in begun.document.usable.data.get("sticker", [])]


def test_an_empty_folder_begins_a_job_of_its_name(tmp_path: Path) -> None:
    folder = tmp_path / "Rock pool"
    folder.mkdir()
    begun = begin([folder])
    assert begun.document.path == folder / "Rock pool.toml"
    assert (begun.document.problems, begun.notes, names(begun)) == ((), (), [])
    begun.document.close()
    # The next time it is that job.
    assert begin([folder]).document.path == begun.document.path
    assert len(list(folder.glob("*.toml"))) == 1


def test_a_folder_of_sketches_begins_a_job_of_them(tmp_path: Path) -> None:
    for name in ("sea star.png", "crab.png", ".hidden.png", "notes.txt"):
        draw(tmp_path / name) if name.endswith("png") else (tmp_path / name).write_text("")
    begun = begin([tmp_path])
    assert names(begun) == ["crab", "sea-star"]
    job = load_job(begun.document.path)
    assert [sticker.sketch for sticker in job.stickers] == ["crab.png", "sea star.png"]


def test_sketches_are_added_to_the_job_beside_them_once(tmp_path: Path) -> None:
    job = write_job(tmp_path)
    whelk = draw(tmp_path / "whelk.png")
    begun = begin([whelk])
    assert begun.document.path == job
    assert names(begun) == ["crab", "whelk"]
    begun.document.close()
    assert names(begin([whelk])) == ["crab", "whelk"]


def test_the_job_of_a_folder_is_found(tmp_path: Path) -> None:
    job = write_job(tmp_path)
    (tmp_path / "zones.toml").write_text("[[area]]\nat = [0.1, 0.1]\n")
    assert begin([tmp_path]).document.path == job
    (tmp_path / "other.toml").write_text(job.read_text())
    with pytest.raises(InputError, match="several jobs"):
        begin([tmp_path])
    own = tmp_path / f"{tmp_path.name}.toml"
    own.write_text(job.read_text())
    assert begin([tmp_path]).document.path == own


def test_a_job_with_a_mistake_is_the_job_all_the_same(tmp_path: Path) -> None:
    job = write_job(tmp_path)
    job.write_text(job.read_text() + "width = 3 mm\n")
    begun = begin([tmp_path])
    assert begun.document.path == job
    assert "line" in begun.document.problems[0].sentence


@pytest.mark.parametrize("name", ["missing.jpg", "missing", "notes.txt", "missing/job.toml"])
def test_what_is_not_there_is_refused_in_a_sentence(tmp_path: Path, name: str) -> None:
    (tmp_path / "notes.txt").write_text("")
    with pytest.raises(InputError):
        begin([tmp_path / name])
    assert not list(tmp_path.glob("*.toml"))


def test_a_folder_that_cannot_be_written_is_shown(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object) -> None:
        raise OutputError('"x" cannot be written: this place may not be written to.')

    monkeypatch.setattr("limner.desk.state.begin.write_whole", refused)
    monkeypatch.setattr("limner.desk.state.document.write_whole", refused)
    draw(tmp_path / "crab.png")
    begun = begin([tmp_path])
    assert "may not be written to" in begun.notes[0]
    assert begun.document.usable.job is not None
    assert not begun.document.refresh()
    assert not list(tmp_path.glob("*.toml"))

"""A job with mistakes opens with what can be shown, can be mended, and gets no new ones."""

from pathlib import Path

import pytest

from helpers_job import CONTRACT_JOB, write_job
from limner.desk.edits.edit import Edit
from limner.desk.state.document import JobDocument
from limner.errors import InputError

SECOND = '\n[[sticker]]\nname = "whelk"\nsketch = "crab.jpg"\nwidth = "20 mm"\n'


def test_a_wrong_sticker_leaves_the_others(tmp_path: Path) -> None:
    job = write_job(tmp_path, CONTRACT_JOB.replace('width = "38 mm"', 'width = "wide"') + SECOND)
    document = JobDocument(job)
    assert document.usable.job is not None
    assert [sticker.name for sticker in document.usable.job.stickers] == ["whelk"]
    (problem,) = [p for p in document.problems if "wide" in p.sentence]
    assert problem.sticker == "crab"
    assert job.read_text().split("\n")[problem.line - 1] == 'width = "wide"'
    document.decide(document.revision, "Width", [Edit("set", ("sticker", "crab", "width"), "38 mm")])
    assert document.problems == ()


def test_a_wrong_key_leaves_its_table(tmp_path: Path) -> None:
    job = write_job(
        tmp_path, CONTRACT_JOB.replace('fill = "kelp"', 'fill = "krill"').replace('"4 mm"', '"four"')
    )
    document = JobDocument(job)
    assert document.usable.job is not None
    assert document.usable.job.stickers[0].area[0].fill is None
    assert document.usable.job.tables.sheet.safe == 4.0
    assert len(document.problems) == 2


def test_what_is_not_toml_opens_and_is_taken_back_but_not_changed(tmp_path: Path) -> None:
    document = JobDocument(write_job(tmp_path))
    good = document.text
    document.path.write_text(good + "width = 38 mm\n")
    document.refresh()
    assert document.usable.job is None
    assert "line" in document.problems[0].sentence
    with pytest.raises(InputError, match="line"):
        document.decide(document.revision, "Size", [Edit("set", ("sheet", "size"), "A5")])
    document.undo(document.revision)
    assert document.path.read_text() == good


@pytest.mark.parametrize(
    ("edit", "said"),
    [
        (Edit("set", ("sticker", "crab", "width"), "wide"), "not a length"),
        (Edit("set", ("sticker", "crab", "widht"), "3 mm"), "no key"),
        (Edit("unset", ("sticker", "crab", "width")), "has no width"),
        (Edit("set", ("sticker", "crab", "area", 0, "fill"), "krill"), "not in \\[colours\\]"),
        (Edit("add", ("sticker",), {"name": "crab", "sketch": "crab.jpg", "width": 20}), "clashes"),
        (Edit("set", ("sticker", "crab", "sketch"), "../../etc/hostname"), "not there|outside"),
        (Edit("set", ("sticker", "crab", "sketch"), "/etc/hostname"), "outside"),
        (Edit("set", ("print", "profile"), "/etc/hostname"), "outside"),
        (Edit("set", ("sheet",), "A6"), "must be a table"),
        (Edit("set", ("sticker", "crab", "name"), "x" * 100), "name"),
    ],
)
def test_no_decision_makes_the_job_unusable(tmp_path: Path, edit: Edit, said: str) -> None:
    job = write_job(tmp_path)
    before = job.read_bytes()
    document = JobDocument(job)
    with pytest.raises(InputError, match=said):
        document.decide(document.revision, "Spoil", [edit])
    assert job.read_bytes() == before
    assert document.revision == 1


def test_a_link_out_of_the_folder_is_not_followed(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    job = write_job(tmp_path / "elsewhere")
    (tmp_path / "secret.jpg").write_bytes(b"secret")
    (job.parent / "link.jpg").symlink_to(tmp_path / "secret.jpg")
    document = JobDocument(job)
    with pytest.raises(InputError, match="outside"):
        document.decide(1, "Link", [Edit("set", ("sticker", "crab", "sketch"), "link.jpg")])


def test_the_last_sticker_may_go(tmp_path: Path) -> None:
    document = JobDocument(write_job(tmp_path))
    document.decide(1, "Away", [Edit("remove", ("sticker", "crab"))])
    assert document.problems == ()
    assert document.usable.job is not None
    assert document.usable.job.stickers == []


def test_areas_of_another_sticker_are_changed_in_tables_of_ones_own(tmp_path: Path) -> None:
    like = '\n[[sticker]]\nname = "small"\nlike = "crab"\nwidth = "20 mm"\n'
    document = JobDocument(write_job(tmp_path, CONTRACT_JOB + like))
    where = ("sticker", "small", "area", 0)
    document.decide(document.revision, "Colour", [Edit("set", (*where, "fill"), "sand")])
    small = document.usable.data["sticker"][1]
    assert small["area"] == [{"name": "shell", "fill": "sand"}]
    document.decide(document.revision, "Colour", [Edit("set", (*where, "fill"), "ink")])
    assert document.usable.data["sticker"][1]["area"] == [{"name": "shell", "fill": "ink"}]
    assert document.usable.job.stickers[1].area[0].fill == "ink"
    assert document.usable.job.stickers[0].area[0].fill == "kelp"
    document.decide(document.revision, "Name", [Edit("add", where[:3], {"at": [0.2, 0.2], "name": "claw"})])
    document.decide(document.revision, "Name", [Edit("set", (*where[:3], 1, "name"), "pincer")])
    assert document.usable.data["sticker"][1]["area"][1] == {"at": [0.2, 0.2], "name": "pincer"}


def test_an_area_of_another_sticker_is_not_taken_away_here(tmp_path: Path) -> None:
    like = '\n[[sticker]]\nname = "small"\nlike = "crab"\nwidth = "20 mm"\n'
    document = JobDocument(write_job(tmp_path, CONTRACT_JOB + like))
    where = ("sticker", "small", "area", 0)
    # Another name would contradict the one that the area has there.
    for edit in (
        Edit("remove", where),
        Edit("unset", (*where, "fill")),
        Edit("set", (*where, "name"), "back"),
    ):
        with pytest.raises(InputError, match='belongs to the sticker "crab"'):
            document.decide(1, "Away", [edit])

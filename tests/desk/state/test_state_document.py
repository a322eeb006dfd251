"""The job document: saved whole, taken back also after a restart, never written over blindly."""

from pathlib import Path

import pytest

from helpers_job import write_job
from limner.desk.edits.edit import Edit
from limner.desk.state.document import JobDocument
from limner.desk.state.values import StaleError
from limner.errors import InputError, OutputError


@pytest.fixture
def job(tmp_path: Path) -> Path:
    return write_job(tmp_path)


def width(text: str) -> Edit:
    return Edit("set", ("sticker", "crab", "width"), text)


def test_undo_and_redo_go_on_after_a_restart(job: Path) -> None:
    texts = [job.read_bytes()]
    first = JobDocument(job)
    for number in (40, 41, 42):
        first.decide(first.revision, f"Width {number}", [width(f"{number} mm")])
        texts.append(job.read_bytes())
    first.undo(first.revision)
    revision = first.revision
    first.close()

    second = JobDocument(job)
    assert (second.revision, second.now().undo, second.now().redo) == (revision, "Width 41", "Width 42")
    second.redo(second.revision)
    assert job.read_bytes() == texts[3]
    for text in texts[2::-1]:
        second.undo(second.revision)
        assert job.read_bytes() == text
    with pytest.raises(InputError, match="nothing left to undo"):
        second.undo(second.revision)


def test_a_new_decision_forgets_what_was_taken_back(job: Path) -> None:
    document = JobDocument(job)
    document.decide(document.revision, "One", [width("40 mm")])
    document.undo(document.revision)
    document.decide(document.revision, "Two", [width("41 mm")])
    assert (document.now().undo, document.now().redo) == ("Two", None)


def test_another_programs_change_is_noticed_and_nothing_written_over(job: Path) -> None:
    document = JobDocument(job)
    document.decide(document.revision, "Width", [width("40 mm")])
    seen = document.revision
    other = job.read_text().replace('size = "A6"', 'size = "A5"')
    job.write_text(other)
    with pytest.raises(StaleError):
        document.decide(seen, "Width", [width("41 mm")])
    assert job.read_text() == other
    assert document.revision > seen
    assert document.usable.data["sheet"]["size"] == "A5"
    # Their change can be taken back, and ours before it.
    document.undo(document.revision)
    document.undo(document.revision)
    assert '"38 mm"' in job.read_text()


def test_a_file_that_is_being_written_is_given_time(job: Path) -> None:
    document = JobDocument(job)
    whole = job.read_text().replace('size = "A6"', 'size = "A5"')
    job.write_text(whole[:30])
    assert not document.refresh(patient=True)
    job.write_text(whole)
    assert document.refresh(patient=True)
    document.undo(document.revision)
    assert document.now().undo is None
    # What stays broken counts the second time.
    job.write_text(whole[:30])
    assert [document.refresh(patient=True), document.refresh(patient=True)] == [False, True]
    assert document.problems


def test_a_change_made_while_nobody_looked_is_a_decision_too(job: Path) -> None:
    first = JobDocument(job)
    first.decide(first.revision, "Width", [width("40 mm")])
    before = job.read_text()
    first.close()
    job.write_text(before.replace('size = "A6"', 'size = "A5"'))
    second = JobDocument(job)
    assert second.revision > first.revision
    second.undo(second.revision)
    assert job.read_text() == before
    assert second.now().undo == "Width"


def test_the_step_between_log_and_job_may_be_lost_without_harm(
    job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = JobDocument(job)
    first.decide(first.revision, "One", [width("40 mm")])
    saved = job.read_bytes()

    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("limner.desk.state.document.write_whole", killed)
    with pytest.raises(KeyboardInterrupt):
        first.decide(first.revision, "Two", [width("41 mm")])
    first.close()
    monkeypatch.undo()
    second = JobDocument(job)
    assert job.read_bytes() == saved
    assert (second.now().undo, second.now().redo) == ("One", "Two")
    second.decide(second.revision, "Three", [width("42 mm")])
    second.close()
    third = JobDocument(job)
    third.undo(third.revision)
    assert job.read_bytes() == saved


def test_what_cannot_be_written_has_not_happened(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    document = JobDocument(job)
    document.decide(document.revision, "One", [width("40 mm")])
    before, revision = job.read_bytes(), document.revision

    def full(*_: object) -> None:
        raise OutputError("the disk is full")

    with monkeypatch.context() as patched:
        patched.setattr("limner.desk.state.document.write_whole", full)
        with pytest.raises(OutputError):
            document.decide(revision, "Two", [width("41 mm")])
        with pytest.raises(OutputError):
            document.undo(revision)
    assert (job.read_bytes(), document.revision, document.now().undo) == (before, revision, "One")
    document.close()
    again = JobDocument(job)
    assert (again.revision, again.now().undo, again.now().redo) == (revision, "One", None)


@pytest.mark.parametrize("damage", [b"", b"{}\n", b"\xff\xfe nonsense\n", b'{"what":"undo","revision":3}\n'])
def test_a_damaged_log_only_costs_the_history(job: Path, damage: bytes) -> None:
    first = JobDocument(job)
    first.decide(first.revision, "One", [width("40 mm")])
    first.close()
    log = next((job.parent / ".limner-cache").glob("*.decisions"))
    log.write_bytes(damage)
    second = JobDocument(job)
    assert second.now().undo is None
    second.decide(second.revision, "Two", [width("41 mm")])
    assert '"41 mm"' in job.read_text()


def test_a_torn_last_line_of_the_log_is_passed_over(job: Path) -> None:
    first = JobDocument(job)
    first.decide(first.revision, "One", [width("40 mm")])
    first.close()
    log = next((job.parent / ".limner-cache").glob("*.decisions"))
    with log.open("ab") as stream:
        stream.write(b'{"what":"add","revi')
    second = JobDocument(job)
    assert second.now().undo == "One"
    second.decide(second.revision, "Two", [width("41 mm")])
    second.close()
    assert JobDocument(job).now().undo == "Two"


def test_two_desks_on_one_job_follow_each_other(job: Path) -> None:
    one, other = JobDocument(job), JobDocument(job)
    one.decide(one.revision, "Width", [width("40 mm")])
    assert other.refresh()
    assert other.usable.data["sticker"][0]["width"] == "40 mm"
    other.decide(other.revision, "Width", [width("41 mm")])
    assert one.refresh()
    assert one.usable.data["sticker"][0]["width"] == "41 mm"


def test_line_ends_and_a_mark_of_bytes_stay(job: Path) -> None:
    data = b"\xef\xbb\xbf" + job.read_bytes().replace(b"\n", b"\r\n")
    job.write_bytes(data)
    document = JobDocument(job)
    document.decide(document.revision, "Width", [width("40 mm")])
    assert job.read_bytes() == data.replace(b'"38 mm"', b'"40 mm"')


def test_a_job_that_has_gone_is_not_made_anew(job: Path) -> None:
    document = JobDocument(job)
    job.unlink()
    assert document.refresh()
    assert "put it back" in document.problems[0].sentence
    with pytest.raises(InputError, match="put it back"):
        document.decide(document.revision, "Width", [width("40 mm")])
    assert not job.exists()


def test_a_link_to_the_job_stays_a_link(job: Path, tmp_path: Path) -> None:
    real = tmp_path / "real.toml"
    job.rename(real)
    job.symlink_to(real)
    document = JobDocument(job)
    document.decide(document.revision, "Width", [width("40 mm")])
    assert job.is_symlink()
    assert '"40 mm"' in real.read_text()

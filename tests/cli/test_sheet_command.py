"""`limner sheet`, `check` and `new` as a user meets them: exit codes, sentences, and files left alone."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from helpers_job import RING_JOB
from helpers_sketches import limner_command, run_limner, write_ring
from limner.cli.main import main
from limner.cli.terminal import SheetDisplay
from limner.pipeline.sheet.names import KEPT_FOLDER, SHEET_FILES


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A job of one ring, traced in a moment."""
    folder = tmp_path / "job"
    folder.mkdir()
    write_ring(folder / "ring.png")
    (folder / "sheet.toml").write_text(RING_JOB)
    return folder / "sheet.toml"


def change(job: Path, old: str, new: str) -> None:
    text = job.read_text()
    assert old in text
    job.write_text(text.replace(old, new))


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


# What a slow machine is told while it waits: stickers that are done, and the time that a stage took.
_PROGRESS = re.compile(r"limner: (\d+ of \d+: \w+|.*: \d+\.\d s)")


def sentence(capsys: pytest.CaptureFixture[str]) -> str:
    """The one sentence on standard error, progress apart."""
    lines = capsys.readouterr().err.strip().splitlines()
    told = [line for line in lines if not _PROGRESS.fullmatch(line)]
    assert len(told) == 1
    assert told[0].startswith("limner: ")
    return told[0]


def test_sheet_writes_its_files_and_sums_up(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "new" / "out"
    assert main(["sheet", str(job), "-o", str(out)]) == 0
    assert names(out) == set(SHEET_FILES)
    told = capsys.readouterr()
    first, traced, *_, last = told.out.splitlines()
    length_mm = json.loads((out / "report.json").read_text())["stickers"][0]["cut"]["length_mm"]
    assert first == f"sheet: A6, 105 x 148 mm, 1 cut line, {length_mm / 10:.1f} cm together"
    assert traced == "  traced: ring"
    assert last == f"  written to {out}: sheet.svg, sheet.pdf, proof.png, report.json, report.html"
    assert "1 of 1: ring" in told.err


def test_without_a_place_files_go_beside_the_job(job: Path) -> None:
    assert main(["sheet", str(job)]) == 0
    assert names(job.parent) == {"ring.png", "sheet.toml", KEPT_FOLDER, *SHEET_FILES}


def test_a_second_run_into_the_same_place_gives_the_same_bytes(job: Path) -> None:
    assert main(["sheet", str(job)]) == 0
    before = {name: (job.parent / name).read_bytes() for name in SHEET_FILES}
    assert main(["sheet", str(job)]) == 0
    assert {name: (job.parent / name).read_bytes() for name in SHEET_FILES} == before


def test_what_must_be_mended_gives_1_and_the_files(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    change(job, 'at = ["50 mm", "60 mm"]', 'at = ["2 mm", "60 mm"]')
    assert main(["sheet", str(job), "-o", str(tmp_path / "out")]) == 1
    assert names(tmp_path / "out") == set(SHEET_FILES)
    assert "  error: " in capsys.readouterr().out


def test_check_tells_the_same_and_writes_no_file_of_the_sheet(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    change(job, 'at = ["50 mm", "60 mm"]', 'at = ["2 mm", "60 mm"]')
    assert main(["sheet", str(job), "-o", str(tmp_path / "out")]) == 1
    said = [line for line in capsys.readouterr().out.splitlines() if line.startswith("  error: ")]
    assert main(["check", str(job)]) == 1
    assert [line for line in capsys.readouterr().out.splitlines() if line.startswith("  error: ")] == said
    assert names(job.parent) == {"ring.png", "sheet.toml", KEPT_FOLDER}


@pytest.mark.parametrize("command", ["sheet", "check"])
def test_help_tells_of_kept_results(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([command, "--help"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert KEPT_FOLDER in text
    assert "may be deleted at any time" in text


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (["sheet"], "job.toml"),
        (["sheet", "nowhere.toml"], "nowhere.toml"),
        (["check", "nowhere.toml"], "nowhere.toml"),
        (["sheet", "."], "folder"),
        (["new"], "folder"),
    ],
)
def test_unusable_arguments_give_one_sentence_and_2(
    arguments: list[str], named: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == 2
    assert named in sentence(capsys).lower()


def test_a_mistake_in_the_job_is_named_with_its_line(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    change(job, "width", "widht")
    assert main(["sheet", str(job), "-o", str(tmp_path / "out")]) == 2
    told = sentence(capsys)
    assert "sheet.toml, line 8" in told
    assert "width" in told
    assert not (tmp_path / "out").exists()


def test_a_sketch_that_cannot_be_used_names_sticker_and_line(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (job.parent / "ring.png").write_bytes(b"no picture")
    assert main(["sheet", str(job), "-o", str(tmp_path / "out")]) == 2
    assert 'sheet.toml, line 5: sticker "ring"' in sentence(capsys)
    assert not (tmp_path / "out").exists()


def test_stickers_that_do_not_fit_name_the_scale_that_would(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    change(job, 'at = ["50 mm", "60 mm"]', "")
    change(job, "30 mm", "150 mm")
    assert main(["sheet", str(job), "-o", str(tmp_path / "out")]) == 2
    told = sentence(capsys)
    assert "ring" in told
    # The ring and the distance of 2.5 mm on both sides in the 97 mm between the safe margins: 92 / 150, 61.3
    # percent; the search stops a hundredth below at most, and never above.
    assert re.search(r"at (60|61) percent", told)
    assert not (tmp_path / "out").exists()


def must_not_trace(*_: object, **__: object) -> None:
    raise AssertionError("traced before looking at the place for the files")


@pytest.fixture
def no_work(monkeypatch: pytest.MonkeyPatch) -> None:
    """Mistakes about the place are told before the work, which would be for nothing."""
    monkeypatch.setattr("limner.pipeline.sheet.build.build_sheet", must_not_trace)


@pytest.mark.usefixtures("no_work")
@pytest.mark.parametrize("place", ["ring.png", "ring.png/inside"])
def test_a_file_is_no_place_for_files(job: Path, place: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sheet", str(job), "-o", str(job.parent / place)]) == 2
    assert "ring.png" in sentence(capsys)


@pytest.mark.usefixtures("no_work")
def test_a_place_that_may_not_be_written_to(
    job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    access = os.access
    monkeypatch.setattr(os, "access", lambda path, mode: Path(path) != tmp_path and access(path, mode))
    assert main(["sheet", str(job), "-o", str(tmp_path / "out")]) == 2
    assert "cannot be written to" in sentence(capsys)
    assert not (tmp_path / "out").exists()


@pytest.mark.usefixtures("no_work")
@pytest.mark.parametrize("role", ["sketch", "mask", "font", "profile", "link"])
def test_files_of_the_job_are_never_written_over(
    job: Path, role: str, capsys: pytest.CaptureFixture[str]
) -> None:
    taken = job.parent / "proof.png"
    (job.parent / "ring.png").rename(taken)
    if role == "sketch":
        change(job, "ring.png", "proof.png")
    else:
        write_ring(job.parent / "ring.png")
    if role == "link":
        taken.unlink()
        taken.symlink_to("ring.png")
    extra = {
        "mask": '\n  [[sticker.zone]]\n  mask = "proof.png"\n  smoothing = "0.1 mm"\n',
        "font": '\n[[lettering]]\ntext = "a"\nsize = "9 pt"\nat = ["20 mm", "20 mm"]\nfont = "proof.png"\n',
        "profile": '\n[print]\nprofile = "proof.png"\n',
    }
    job.write_text(job.read_text() + extra.get(role, ""))
    before = taken.read_bytes()
    assert main(["sheet", str(job)]) == 2
    assert "never written over" in sentence(capsys)
    assert taken.read_bytes() == before
    assert names(job.parent) == {"ring.png", "proof.png", "sheet.toml"} - (
        {"ring.png"} if role == "sketch" else set()
    )


def test_a_failed_write_takes_back_the_folders_made_for_it(
    job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from limner.errors import OutputError

    def full(files: object) -> None:
        raise OutputError("the disk is full; make room and run again.")

    monkeypatch.setattr("limner.pipeline.sheet.folder.write_whole", full)
    assert main(["sheet", str(job), "-o", str(tmp_path / "a" / "b")]) == 2
    assert "disk is full" in sentence(capsys)
    assert not (tmp_path / "a").exists()


def test_new_makes_a_job_and_overwrites_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "demo"
    assert main(["new", str(folder)]) == 0
    told = capsys.readouterr().out
    assert told == f"{folder / 'tide-pool.toml'} is ready: limner sheet {folder / 'tide-pool.toml'}\n"
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    (folder / "crab.jpg").write_bytes(b"mine")
    assert main(["new", str(folder)]) == 2
    assert "already there" in sentence(capsys)
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == {**before, "crab.jpg": b"mine"}


def test_progress_is_a_line_each_where_there_is_no_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    display = SheetDisplay()
    display.begin("tracing")
    display.step("", 0, 2)
    display.step("crab", 1, 2)
    display.step("whelk", 2, 2)
    display.end("tracing")
    display.begin("layout")
    display.end("layout")
    assert capsys.readouterr().err == "limner: 1 of 2: crab\nlimner: 2 of 2: whelk\n"


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are for other systems")
def test_on_a_terminal_a_bar_grows_and_goes(job: Path, tmp_path: Path) -> None:
    import pty

    ours, theirs = pty.openpty()
    command = limner_command("sheet", job, "-o", tmp_path / "out")
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=theirs, env={**os.environ, "TERM": "xterm"}
    ) as run:
        os.close(theirs)
        shown = b""
        try:
            while piece := os.read(ours, 4096):
                shown += piece
        except OSError:
            pass  # how Linux tells that the other end has gone
        out = run.stdout.read() if run.stdout else b""
    os.close(ours)
    assert run.returncode == 0
    assert b"tracing" in shown
    assert b"100%" in shown
    assert b"1 of 1" not in shown
    assert out.startswith(b"sheet: A6")


def test_the_command_works_in_a_process_of_its_own(job: Path, tmp_path: Path) -> None:
    done = run_limner("sheet", job, "-o", tmp_path / "out")
    assert done.returncode == 0
    assert "Traceback" not in done.stderr
    assert names(tmp_path / "out") == set(SHEET_FILES)


def test_a_fault_of_its_own_is_3_and_asks_for_a_report(
    job: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("somewhere")

    monkeypatch.setattr("limner.pipeline.check_targets", broken)
    monkeypatch.delenv("LIMNER_TRACEBACK", raising=False)
    assert main(["sheet", str(job)]) == 3
    told = sentence(capsys)
    assert "a fault of its own (ZeroDivisionError: somewhere)" in told
    assert "please report it" in told


def test_a_job_given_for_a_sketch_says_so(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["trace", str(job)]) == 2
    assert 'sheet.toml" is a job, not a sketch: limner sheet makes' in sentence(capsys)


def test_the_smallest_budget_is_the_same_in_job_and_trace(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Both say the same number, refuse one less, and take that number itself."""
    change(job, 'width = "30 mm"', 'width = "30 mm"\nnodes = 3')
    assert main(["sheet", str(job)]) == 2
    in_job = int(re.findall(r"\d+", sentence(capsys).split("at least")[-1])[0])
    sketch = job.parent / "ring.png"
    assert main(["trace", str(sketch), "-o", str(tmp_path / "a.svg"), "--nodes", str(in_job - 1)]) == 2
    assert str(in_job) in sentence(capsys)
    assert main(["trace", str(sketch), "-o", str(tmp_path / "a.svg"), "--nodes", str(in_job)]) == 0
    change(job, "nodes = 3", f"nodes = {in_job}")
    assert main(["sheet", str(job)]) in (0, 1)


def test_each_sticker_by_itself(job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "out"
    assert main(["sheet", str(job), "-o", str(out), "--singles"]) == 0
    assert names(out) == {*SHEET_FILES, "singles"}
    assert names(out / "singles") == {"ring.svg", "ring.png"}
    assert capsys.readouterr().out.rstrip().endswith("report.html, 2 files in singles")
    before = (out / "singles" / "ring.png").read_bytes()
    assert main(["sheet", str(job), "-o", str(out), "--singles"]) == 0
    assert (out / "singles" / "ring.png").read_bytes() == before


def test_without_a_smoothing_it_follows_the_width_of_the_lines(job: Path, tmp_path: Path) -> None:
    """As in a trace, so that a small sticker keeps its lines: a fifth of their width."""
    assert main(["sheet", str(job), "-o", str(tmp_path / "large")]) == 0
    change(job, 'width = "30 mm"', 'width = "10 mm"')
    assert main(["sheet", str(job), "-o", str(tmp_path / "small")]) == 0
    for folder in ("large", "small"):
        (ring,) = json.loads((tmp_path / folder / "report.json").read_text())["stickers"]
        assert ring["error_mm"] <= 0.2 * ring["line_width_mm"] + 0.001


def test_singles_never_write_over_a_sketch(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (job.parent / "singles").mkdir()
    (job.parent / "ring.png").rename(job.parent / "singles" / "ring.png")
    change(job, "ring.png", "singles/ring.png")
    assert main(["sheet", str(job), "--singles"]) == 2
    assert "belongs to the job itself" in sentence(capsys)


def test_several_jobs_each_into_its_folder(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = tmp_path / "other" / "sheet.toml"
    other.parent.mkdir()
    write_ring(other.parent / "ring.png")
    other.write_text(RING_JOB)
    broken = job.parent / "broken.toml"
    broken.write_text(RING_JOB.replace("30 mm", "30 kg"))
    out = tmp_path / "out"
    assert main(["sheet", str(job), str(broken), str(other), str(job), "-o", str(out)]) == 1
    assert names(out) == {"sheet", "sheet-2"}
    assert names(out / "sheet-2") == set(SHEET_FILES)
    told = capsys.readouterr()
    assert told.out.splitlines()[-1] == "2 of 3 sheets made"
    assert "broken.toml, line 8" in told.err.splitlines()[-1]


def test_several_jobs_are_checked_as_they_are_made(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broken = job.parent / "broken.toml"
    broken.write_text(RING_JOB.replace("30 mm", "30 kg"))
    assert main(["check", str(job), str(broken), str(job)]) == 1
    told = capsys.readouterr()
    assert told.out.splitlines()[-1] == "1 of 2 sheets checked"
    assert "broken.toml, line 8" in told.err.splitlines()[-1]
    assert main(["check", str(broken), str(tmp_path / "none.toml")]) == 2
    assert "0 of 2 sheets checked" in capsys.readouterr().out
    assert names(job.parent) == {"ring.png", "sheet.toml", "broken.toml", KEPT_FOLDER}


def test_single_stickers_have_a_pair_of_files_each_and_copies_none(job: Path, tmp_path: Path) -> None:
    like = '\n[[sticker]]\nname = "twin"\nlike = "ring"\ncopies = 3\n'
    job.write_text(RING_JOB.replace('at = ["50 mm", "60 mm"]\n', "copies = 2\n") + like)
    assert main(["sheet", str(job), "-o", str(tmp_path / "out"), "--singles"]) == 0
    assert names(tmp_path / "out" / "singles") == {"ring.svg", "ring.png", "twin.svg", "twin.png"}


def test_several_jobs_of_which_none_can_be_made(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["sheet", str(tmp_path / "a.toml"), str(tmp_path / "b.toml")]
    assert main(arguments) == 2
    assert "add -o FOLDER" in sentence(capsys)
    assert main([*arguments, "-o", str(tmp_path / "out")]) == 2
    assert "0 of 2 sheets made" in capsys.readouterr().out

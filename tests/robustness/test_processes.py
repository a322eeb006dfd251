"""Whole processes under bad conditions: killed, without room, side by side, with odd names.

What writing promises stands in `limner.output.files`: a process killed in the microseconds between link and
rename leaves one hidden file, which the next run removes. Where the target does not exist yet, there is no
such moment.
"""

import json
import os
import resource
import signal
import subprocess
import sys
import time
from pathlib import Path
from xml.etree import ElementTree

import pytest

from helpers_sketches import RING_AREAS, limner_command, run_limner, write_ring

needs_posix = pytest.mark.skipif(sys.platform == "win32", reason="signals and limits of POSIX")


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def whole(path: Path) -> bool:
    """Whether an SVG is complete; raises where it is not."""
    return ElementTree.fromstring(path.read_bytes()).tag.endswith("svg")


@pytest.fixture(scope="module")
def seconds(tmp_path_factory: pytest.TempPathFactory) -> float:
    """How long an undisturbed run takes here."""
    folder = tmp_path_factory.mktemp("timed")
    sketch = write_ring(folder / "ring.png")
    started = time.perf_counter()
    assert run_limner("trace", sketch, "--report", folder / "ring.json").returncode == 0
    return time.perf_counter() - started


@needs_posix
@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM])
@pytest.mark.parametrize("share", [0.4, 0.8, 0.95])
def test_killed_at_some_moment(number: int, share: float, seconds: float, tmp_path: Path) -> None:
    sketch = write_ring(tmp_path / "ring.png")
    before = sketch.read_bytes()
    command = limner_command("trace", sketch, "--report", tmp_path / "ring.json")
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    time.sleep(share * seconds)
    process.send_signal(number)
    process.wait(timeout=30)
    left = names(tmp_path) - {"ring.png"}
    assert left <= {"ring.svg", "ring.json"}
    assert sketch.read_bytes() == before
    if "ring.svg" in left:
        assert whole(tmp_path / "ring.svg")
    if "ring.json" in left:
        assert json.loads((tmp_path / "ring.json").read_text())["nodes"] > 0


def living(group: int) -> list[int]:
    """Processes of that group that have not ended."""
    found = []
    for entry in Path("/proc").iterdir():
        try:
            state, _, its_group = (entry / "stat").read_text().rpartition(")")[2].split()[:3]
        except (OSError, ValueError):
            continue
        if entry.name.isdecimal() and state != "Z" and int(its_group) == group:
            found.append(int(entry.name))
    return found


@pytest.mark.skipif(
    not Path("/proc/self/stat").exists(), reason="processes are listed in /proc on Linux alone"
)
@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_no_worker_outlives_the_command(number: int, tmp_path: Path) -> None:
    scans, out = tmp_path / "scans", tmp_path / "out"
    scans.mkdir()
    for k in range(12):
        write_ring(scans / f"{k:02}.png")
    process = subprocess.Popen(
        limner_command("trace", scans, "-o", out),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    group = process.pid
    assert process.stderr is not None
    assert "1 of 12" in process.stderr.readline()
    assert len(living(group)) > 1
    process.send_signal(number)
    process.communicate(timeout=30)
    deadline = time.monotonic() + 30
    while living(group) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert living(group) == []
    assert process.returncode == (130 if number == signal.SIGINT else -number)
    assert all(name.endswith(".svg") and whole(out / name) for name in names(out))
    assert len(names(scans)) == 12


@needs_posix
def test_a_file_larger_than_allowed_stops_everything(tmp_path: Path) -> None:
    """A limit on the size of files, as a stand-in for a full disk: writing fails in the middle."""
    sketch = write_ring(tmp_path / "ring.png")

    def limit() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (1024, 1024))

    run = subprocess.run(
        [sys.executable, "-B", *limner_command("trace", sketch, "--report", tmp_path / "ring.json")[1:]],
        preexec_fn=limit,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert run.returncode == 2
    assert "cannot be written" in run.stderr
    assert names(tmp_path) == {"ring.png"}


def test_a_full_disk(tmp_path: Path) -> None:
    place = tmp_path / "full"
    place.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=8k", "tmpfs", str(place)], capture_output=True, check=False
    )
    if mounted.returncode != 0:
        pytest.skip("this user may not mount a small file system")
    try:
        sketch = write_ring(tmp_path / "ring.png")
        (place / "ring.svg").write_text("old")
        run = run_limner("trace", sketch, "-o", place / "ring.svg", "--proof", place / "proof.png")
        assert run.returncode == 2
        assert "full" in run.stderr
        assert names(place) == {"ring.svg"}
        assert (place / "ring.svg").read_text() == "old"
    finally:
        subprocess.run(["umount", str(place)], check=True)


def test_two_runs_into_one_folder_at_once(tmp_path: Path) -> None:
    """Two drawings under one name: either result may stay, but drawing and report belong together."""
    small, large = write_ring(tmp_path / "small.png", 200), write_ring(tmp_path / "large.png", 300)
    out = tmp_path / "out"
    out.mkdir()
    targets = ("-o", out / "one.svg", "--report", out / "one.json")
    runs = [
        subprocess.Popen(limner_command("trace", sketch, *targets), stdout=subprocess.DEVNULL)
        for sketch in (small, large, small, large)
    ]
    assert [run.wait(timeout=120) for run in runs] == [0, 0, 0, 0]
    assert names(out) == {"one.svg", "one.json"}
    svg, report = (out / "one.svg").read_text(), (out / "one.json").read_text()
    assert whole(out / "one.svg")
    assert ("small.png" in svg) == ("small.png" in report)
    assert ("large.png" in svg) == ("large.png" in report)


ODD_NAMES = [
    'it\'s "quoted" & <b>bold<b>.png',
    "two\nlines\tand a tab.png",
    "🦀 крабик 蟹.png",
    "l" * 200 + ".png",
    "]]>--><!-- %s {0} $HOME `id`.png",
    "\x07bell\x1b[31mred.png",
    b"not-utf8-\xff\xfe.png",
]


@pytest.mark.parametrize("name", ODD_NAMES, ids=range(len(ODD_NAMES)))
def test_odd_names(name: str | bytes, tmp_path: Path) -> None:
    path = tmp_path / os.fsdecode(name)
    try:
        write_ring(path, 160)
    except OSError:
        pytest.skip("this file system takes no such name")
    report, proof = tmp_path / "out.json", tmp_path / "out.png"
    run = run_limner("trace", os.fsencode(path), "--report", report, "--proof", proof)
    assert run.returncode == 0, run.stderr
    (shapes,) = (entry for entry in tmp_path.iterdir() if entry.suffix == ".svg")
    assert shapes.stem == path.stem
    root = ElementTree.fromstring(shapes.read_bytes())
    assert {element.tag.rpartition("}")[2] for element in root.iter()} <= {
        "svg",
        "title",
        "defs",
        "g",
        "path",
    }
    assert report.read_bytes().decode("utf-8")
    # The summary stays on its lines, and moves no cursor.
    assert not any(sign in run.stdout + run.stderr for sign in "\x07\x1b\t")
    assert run.stdout.splitlines()[1].startswith(f"  {RING_AREAS} areas")


@pytest.mark.parametrize("name", ODD_NAMES, ids=range(len(ODD_NAMES)))
def test_odd_names_of_bad_pictures(name: str | bytes, tmp_path: Path) -> None:
    path = tmp_path / os.fsdecode(name)
    try:
        path.write_text("no picture")
    except OSError:
        pytest.skip("this file system takes no such name")
    run = run_limner("trace", os.fsencode(path))
    assert run.returncode == 2
    assert run.stderr.count("\n") == 1
    assert "fault" not in run.stderr
    assert not any(sign in run.stderr for sign in "\x07\x1b\t")


@needs_posix
def test_pipes_links_and_folders_in_a_folder(tmp_path: Path) -> None:
    scans = tmp_path / "scans"
    (scans / "album.png").mkdir(parents=True)
    os.mkfifo(scans / "pipe.png")
    (scans / "nowhere.png").symlink_to(tmp_path / "gone")
    (scans / "circle.png").symlink_to(scans / "circle.png")
    (scans / "linked.png").symlink_to(write_ring(tmp_path / "ring.png", 160))
    run = run_limner("trace", scans, "-o", tmp_path / "out")
    assert run.returncode == 1, run.stderr
    assert names(tmp_path / "out") == {"linked.svg"}
    ends = run.stderr.splitlines()[-3:]
    for name, line in zip(("circle", "nowhere", "pipe"), ends, strict=True):
        assert f"{name}.png" in line
        assert "fault" not in line


def test_the_same_bytes_whatever_seed_threads_and_time_zone(tmp_path: Path) -> None:
    sketch = write_ring(tmp_path / "ring.png", 400)
    written = []
    for number, (seed, threads, zone) in enumerate(
        [("0", "1", "UTC"), ("7", "2", "Asia/Tokyo"), ("random", "4", "UTC")]
    ):
        environment = {
            **os.environ,
            "PYTHONHASHSEED": seed,
            "OMP_NUM_THREADS": threads,
            "OPENBLAS_NUM_THREADS": threads,
            "OPENCV_FOR_THREADS_NUM": threads,
            "TZ": zone,
        }
        files = [tmp_path / f"{number}.svg", tmp_path / f"{number}.png"]
        run = run_limner("trace", sketch, "-o", files[0], "--proof", files[1], env=environment)
        assert run.returncode == 0, run.stderr
        written.append([path.read_bytes() for path in files])
    assert written[0] == written[1] == written[2]

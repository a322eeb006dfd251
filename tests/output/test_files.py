"""Files arrive whole or not at all; nothing temporary stays behind."""

import errno
import os
import resource
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from limner.errors import OutputError
from limner.output import files
from limner.output.files import write_whole

linux = pytest.mark.skipif(sys.platform != "linux", reason="relies on Linux signals, limits and /proc")


@pytest.fixture(params=["nameless", "named"])
def way(request, monkeypatch):
    """Both ways of writing: with O_TMPFILE, and without it as on other systems."""
    if request.param == "named":
        monkeypatch.delattr(os, "O_TMPFILE", raising=False)
    return request.param


def names(folder: Path) -> list[str]:
    return sorted(entry.name for entry in folder.iterdir())


def test_new_and_existing_files_are_written(way, tmp_path):
    old = tmp_path / "sheet.svg"
    old.write_bytes(b"old")
    write_whole({old: b"new", tmp_path / "sheet.pdf": b"pdf", tmp_path / "empty": b""})
    assert old.read_bytes() == b"new"
    assert (tmp_path / "sheet.pdf").read_bytes() == b"pdf"
    assert (tmp_path / "empty").read_bytes() == b""
    assert names(tmp_path) == ["empty", "sheet.pdf", "sheet.svg"]


def test_permissions_are_the_usual_ones_and_existing_ones_are_kept(way, tmp_path):
    old = tmp_path / "old"
    old.write_bytes(b"old")
    old.chmod(0o640)
    before = os.umask(0o022)
    try:
        write_whole({old: b"new", tmp_path / "new": b"new"})
    finally:
        os.umask(before)
    assert old.stat().st_mode & 0o777 == 0o640
    assert (tmp_path / "new").stat().st_mode & 0o777 == 0o644


def test_a_link_is_kept_and_its_file_written(way, tmp_path):
    (tmp_path / "real").mkdir()
    real = tmp_path / "real" / "sheet.svg"
    real.write_bytes(b"old")
    link = tmp_path / "link.svg"
    link.symlink_to(real)
    dangling = tmp_path / "dangling.svg"
    dangling.symlink_to(tmp_path / "real" / "later.svg")
    write_whole({link: b"new", dangling: b"later"})
    assert link.is_symlink()
    assert real.read_bytes() == b"new"
    assert (tmp_path / "real" / "later.svg").read_bytes() == b"later"
    assert names(tmp_path / "real") == ["later.svg", "sheet.svg"]


def fifo(tmp_path: Path) -> Path:
    os.mkfifo(tmp_path / "fifo")
    return tmp_path / "fifo"


def circle(tmp_path: Path) -> Path:
    (tmp_path / "a").symlink_to(tmp_path / "b")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    return tmp_path / "a"


def protected(tmp_path: Path) -> Path:
    path = tmp_path / "protected"
    path.write_bytes(b"precious")
    path.chmod(0o444)
    return path


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda folder: folder, "it is a folder"),
        (lambda folder: folder / "missing" / "out.svg", "make the folder first"),
        (lambda folder: folder / ("x" * 300), "name is too long"),
        (lambda folder: folder / "nul\0byte", "no file name may"),
        (lambda folder: folder / "good.svg" / "out.svg", "not a folder"),
        (fifo, "a device or a pipe"),
        (circle, "circle"),
    ],
)
def test_what_cannot_be_written_is_refused_and_nothing_changes(way, make, words, tmp_path):
    good = tmp_path / "good.svg"
    good.write_bytes(b"old")
    bad = make(tmp_path)
    before = names(tmp_path)
    with pytest.raises(OutputError, match=words) as caught:
        write_whole({good: b"new", bad: b"data"})
    message = str(caught.value)
    assert message.endswith(".")
    assert message.isprintable()
    assert good.read_bytes() == b"old"
    assert names(tmp_path) == before


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_write_protection_is_respected(tmp_path):
    with pytest.raises(OutputError, match="write-protected"):
        write_whole({protected(tmp_path): b"data"})
    tmp_path.chmod(0o555)
    with pytest.raises(OutputError, match="may not be written to"):
        write_whole({tmp_path / "new": b"data"})


def test_write_protection_is_respected_where_the_system_says_so(tmp_path, monkeypatch):
    path = protected(tmp_path)
    monkeypatch.setattr(files.os, "access", lambda place, mode: str(place) != str(path))
    with pytest.raises(OutputError, match="write-protected"):
        write_whole({path: b"data"})
    assert path.read_bytes() == b"precious"


def test_names_with_quotes_newlines_and_emoji(way, tmp_path):
    odd = [
        tmp_path / name
        for name in ('a "quoted" name', "two\nlines", "crab \N{CRAB}", "-o", "~", "*", "x" * 200)
    ]
    write_whole(dict.fromkeys(odd, b"data"))
    assert names(tmp_path) == sorted(path.name for path in odd)


def test_one_file_under_two_names_is_refused(tmp_path):
    (tmp_path / "link").symlink_to(tmp_path / "file")
    with pytest.raises(OutputError, match="same file"):
        write_whole({tmp_path / "file": b"a", tmp_path / "link": b"b"})
    assert names(tmp_path) == ["link"]


@linux
def test_a_full_disk(way, tmp_path):
    """A limit on the size of files stands in for the full disk: the same call fails in the same place."""
    small, large = tmp_path / "small", tmp_path / "large"
    small.write_bytes(b"old")
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, hard))
    try:
        with pytest.raises(OutputError, match=r"large.*larger than the system allows"):
            write_whole({small: b"new", large: bytes(200_000)})
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert names(tmp_path) == ["small"]
    assert small.read_bytes() == b"old"


@pytest.mark.parametrize("call", ["fsync", "replace", "link"])
@pytest.mark.parametrize("after", [0, 1, 2])
def test_a_failure_at_any_step_puts_everything_back(way, call, after, tmp_path, monkeypatch):
    paths = [tmp_path / name for name in ("a", "b", "c")]
    for path in paths[:2]:
        path.write_bytes(b"old")
    real = getattr(os, call)
    calls = 0

    def failing(*arguments, **options):
        nonlocal calls
        # Second names of old files may fail without harm: only what places new ones counts here.
        if call == "link" and "dst_dir_fd" not in options:
            return real(*arguments, **options)
        calls += 1
        if calls == after + 1:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return real(*arguments, **options)

    monkeypatch.setattr(files.os, call, failing)
    failure = None
    try:
        write_whole(dict.fromkeys(paths, b"new"))
    except OutputError as error:
        failure = str(error)
    if calls > after:
        assert failure is not None, "a failure was swallowed"
        assert "the disk is full" in failure
        assert names(tmp_path) == ["a", "b"]
        assert [path.read_bytes() for path in paths[:2]] == [b"old", b"old"]
    else:
        assert failure is None
        assert [path.read_bytes() for path in paths] == [b"new"] * 3
    assert not list(tmp_path.glob(".*"))


def test_an_interrupt_leaves_nothing(way, tmp_path, monkeypatch):
    (tmp_path / "a").write_bytes(b"old")

    def interrupted(descriptor):
        raise KeyboardInterrupt

    monkeypatch.setattr(files.os, "fsync", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_whole({tmp_path / "a": b"new"})
    assert names(tmp_path) == ["a"]
    assert (tmp_path / "a").read_bytes() == b"old"


def test_what_a_killed_run_left_is_cleared(tmp_path):
    (tmp_path / ".limner-0123456789abcdef.part").write_bytes(b"half")
    (tmp_path / ".other").write_bytes(b"not ours")
    write_whole({tmp_path / "a": b"new"})
    assert names(tmp_path) == [".other", "a"]


WRITER = """
import sys
from pathlib import Path
from limner.output.files import write_whole
folder, mark = Path(sys.argv[1]), sys.argv[2].encode()
print("ready", flush=True)
while True:
    write_whole({folder / name: mark * 200_000 for name in ("a", "b", "c")})
"""


def start_writer(folder: Path, mark: str) -> subprocess.Popen[bytes]:
    process = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(folder), mark], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    )
    assert process.stdout is not None
    assert process.stdout.readline() == b"ready\n"
    return process


@linux
@pytest.mark.parametrize("moment", range(6))
def test_killed_at_some_moment(moment, tmp_path):
    """Whole files only; at most a complete file waits under a passing name, and the next run clears it."""
    process = start_writer(tmp_path, "x")
    time.sleep(0.02 + 0.017 * moment)
    process.send_signal(signal.SIGKILL)
    process.communicate()
    for path in tmp_path.iterdir():
        assert path.read_bytes() == b"x" * 200_000
    write_whole({tmp_path / "a": b"y"})
    assert not list(tmp_path.glob(".*"))


@linux
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_an_interrupt_between_two_renames_waits(number, tmp_path, monkeypatch):
    """A signal while the files get their names arrives once all have theirs: no mixture of old and new."""
    paths = [tmp_path / name for name in ("a", "b", "c")]
    for path in paths:
        path.write_bytes(b"old")
    real = os.replace

    def interrupted(source, target):
        real(source, target)
        os.kill(os.getpid(), number)

    def stop(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(files.os, "replace", interrupted)
    before = signal.signal(number, stop)
    # Another thread that would take the signal, as those of numerical libraries do.
    done = threading.Event()
    bystander = threading.Thread(target=done.wait)
    bystander.start()
    try:
        with pytest.raises(KeyboardInterrupt):
            write_whole(dict.fromkeys(paths, b"new"))
        assert signal.getsignal(number) is stop
    finally:
        signal.signal(number, before)
        done.set()
        bystander.join()
    assert [path.read_bytes() for path in paths] == [b"new"] * 3
    assert names(tmp_path) == ["a", "b", "c"]


def test_it_works_outside_the_main_thread(tmp_path):
    thread = threading.Thread(target=write_whole, args=({tmp_path / "a": b"new", tmp_path / "b": b"new"},))
    thread.start()
    thread.join()
    assert names(tmp_path) == ["a", "b"]


@linux
def test_two_runs_into_one_folder_do_not_mix(tmp_path):
    processes = [start_writer(tmp_path, mark) for mark in "xy"]
    time.sleep(0.3)
    for process in processes:
        process.send_signal(signal.SIGTERM)
        process.communicate()
    first = {(tmp_path / name).read_bytes()[:1] for name in ("a", "b", "c")}
    assert len(first) == 1
    assert names(tmp_path) == ["a", "b", "c"]


def test_a_folder_locked_for_long_is_written_all_the_same(tmp_path, monkeypatch):
    """A stopped run that holds the lock does not make others hang; its passing files are left alone."""
    fcntl = pytest.importorskip("fcntl")
    monkeypatch.setattr(files, "_LOCK_WAIT_S", 0.05)
    (tmp_path / ".limner-0123456789abcdef.part").write_bytes(b"its")
    descriptor = os.open(tmp_path, os.O_RDONLY)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        start = time.monotonic()
        write_whole({tmp_path / "a": b"new"})
        assert 0.05 <= time.monotonic() - start < 2.0
    finally:
        os.close(descriptor)
    assert names(tmp_path) == [".limner-0123456789abcdef.part", "a"]


def test_a_file_system_without_locks_or_second_names(tmp_path, monkeypatch):
    fcntl = pytest.importorskip("fcntl")

    def refused(*arguments, **options):
        raise OSError(errno.ENOTSUP, os.strerror(errno.ENOTSUP))

    monkeypatch.setattr(fcntl, "flock", refused)
    monkeypatch.setattr(files.os, "link", refused)
    monkeypatch.delattr(os, "O_TMPFILE", raising=False)
    (tmp_path / "a").write_bytes(b"old")
    write_whole({tmp_path / "a": b"new", tmp_path / "b": b"new"})
    assert [(tmp_path / name).read_bytes() for name in ("a", "b")] == [b"new", b"new"]
    assert names(tmp_path) == ["a", "b"]


@pytest.mark.skipif(not hasattr(os, "O_TMPFILE"), reason="needs nameless files")
def test_a_new_file_that_appears_meanwhile_is_replaced(tmp_path, monkeypatch):
    real = os.fsync

    def intruder(descriptor):
        if not list(tmp_path.iterdir()):
            (tmp_path / "a").write_bytes(b"another's")
        real(descriptor)

    monkeypatch.setattr(files.os, "fsync", intruder)
    write_whole({tmp_path / "a": b"new"})
    assert (tmp_path / "a").read_bytes() == b"new"
    assert names(tmp_path) == ["a"]


def test_nothing_to_write():
    write_whole({})

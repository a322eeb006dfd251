"""Write files whole or not at all.

Method
------
Each file is written to a file without a name in the folder of its target (``O_TMPFILE``), brought to the disk
(`fsync`), and only then given its name: a new file by a link, an existing one by a link under a passing
name and a rename over it. A process that is killed while it writes therefore leaves nothing behind. Where
a file system knows no nameless files, a hidden file with a passing name takes their place.

All of it happens under an exclusive lock on the folder, so that two runs into one folder do not mix their
results, and so that any passing name found there belongs to a process that died: it is cleared away.

Limits
------
* An operating system renames one file at a time: a process killed between two renames leaves some files
  new and some old, each of them whole. Any other failure puts the old ones back.
* A process killed within the microseconds between link and rename leaves one hidden file
  (``.limner-….part``), which the next run into that folder removes.
* File systems without locks (some network shares) get neither the lock nor the clearing up.
"""

import errno
import os
import secrets
import signal
import stat
import threading
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from limner.errors import OutputError

try:
    import fcntl
except ImportError:  # pragma: no cover - no such module on Windows
    fcntl = None  # type: ignore[assignment]

__all__ = ["write_whole"]

_PREFIX, _SUFFIX = ".limner-", ".part"

# A run holds the lock for the milliseconds that writing takes; one that holds it longer is stopped or hangs,
# and waiting on would make this run hang too.
_LOCK_WAIT_S = 10.0
_LOCK_POLL_S = 0.01

_WAITING = [
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK") if hasattr(signal, name)
]

_REASONS = {
    errno.ENOSPC: "the disk is full; make room and run again",
    errno.EDQUOT: "the disk quota is used up; make room and run again",
    errno.EFBIG: "it would be larger than the system allows; raise that limit or write elsewhere",
    errno.EACCES: "this place may not be written to; choose another one or change its permissions",
    errno.EPERM: "this place may not be written to; choose another one or change its permissions",
    errno.EROFS: "the disk is read-only; choose another place",
    errno.ENAMETOOLONG: "the name is too long; choose a shorter one",
    errno.ELOOP: "its links lead in a circle; choose another name",
    errno.ENOENT: "its folder does not exist; make the folder first",
    errno.ENOTDIR: "a part of the path is a file, not a folder; choose another place",
    errno.EISDIR: "it is a folder; choose the name of a file",
}


@dataclass(slots=True)
class _Job:
    """One file on its way to its name."""

    path: Path
    target: str
    data: bytes
    mode: int | None = None
    descriptor: int | None = None
    passing: str | None = None
    backup: str | None = None
    identity: tuple[int, int] | None = None

    @property
    def folder(self) -> str:
        return os.path.dirname(self.target)  # noqa: PTH120 - targets are strings that realpath made

    def new_name(self) -> str:
        return os.path.join(self.folder, f"{_PREFIX}{secrets.token_hex(8)}{_SUFFIX}")  # noqa: PTH118


@dataclass(slots=True)
class _Current:
    """The file that is being worked on, for the message."""

    path: Path | None = field(default=None)


def write_whole(files: Mapping[Path, bytes]) -> None:
    """Write all files, or none.

    A symbolic link is kept and the file that it leads to is written. An existing file keeps its permissions.

    Parameters
    ----------
    files : mapping of Path to bytes
        What to write where; the folders must exist.

    Raises
    ------
    OutputError
        One of them cannot be written. No file is then changed, and no temporary one is left.
    """
    current = _Current()
    try:
        jobs = []
        for path, data in files.items():
            current.path = path
            jobs.append(_prepare(path, data))
        _refuse_doubles(jobs)
        with ExitStack() as locks:
            for folder in sorted({job.folder for job in jobs}):
                if locks.enter_context(_locked(folder)):
                    _clear(folder)
            _write_all(jobs, current)
    except OSError as error:
        raise OutputError(_sentence(current.path, error)) from error
    except ValueError as error:
        reason = "the name holds a character that no file name may; choose another name"
        raise OutputError(f"{_shown(current.path)} cannot be written: {reason}.") from error


def _sentence(path: Path | None, error: OSError) -> str:
    reason = _REASONS.get(error.errno or 0, f"{error.strerror or error}; choose another place")
    return f"{_shown(path)} cannot be written: {reason}."


def _shown(path: Path | None) -> str:
    """A path as one line of printable text, in quotes."""
    return (
        '"' + "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in str(path)) + '"'
    )


def _prepare(path: Path, data: bytes) -> _Job:
    """Follow links to the file that is meant, and refuse what is certain to fail."""
    target = os.path.realpath(path)
    job = _Job(path, target, data)
    if not stat.S_ISDIR(os.stat(job.folder).st_mode):  # noqa: PTH116
        raise NotADirectoryError(errno.ENOTDIR, "not a folder")
    if not os.access(job.folder, os.W_OK | os.X_OK):
        raise PermissionError(errno.EACCES, "not writable")
    try:
        found = os.stat(target)  # noqa: PTH116
    except FileNotFoundError:
        return job
    if stat.S_ISDIR(found.st_mode):
        raise IsADirectoryError(errno.EISDIR, "a folder")
    if not stat.S_ISREG(found.st_mode):
        raise OutputError(
            f"{_shown(path)} cannot be written: it is a device or a pipe; choose the name of a file."
        )
    if not os.access(target, os.W_OK):
        raise OutputError(
            f"{_shown(path)} cannot be written: the file is write-protected; choose another name."
        )
    job.mode = stat.S_IMODE(found.st_mode)
    return job


def _refuse_doubles(jobs: Sequence[_Job]) -> None:
    seen: dict[str, Path] = {}
    for job in jobs:
        other = seen.setdefault(job.target, job.path)
        if other is not job.path:
            raise OutputError(
                f"{_shown(other)} and {_shown(job.path)} are the same file: "
                "give each output a name of its own."
            )


@contextmanager
def _locked(folder: str) -> Iterator[bool]:
    """Hold the folder's lock; yields whether it was to be had."""
    if fcntl is None:  # pragma: no cover - Windows
        yield False
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        yield _lock(descriptor)
    finally:
        os.close(descriptor)


def _lock(descriptor: int) -> bool:
    deadline = time.monotonic() + _LOCK_WAIT_S
    while True:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() > deadline:
                return False
            time.sleep(_LOCK_POLL_S)
        except OSError:
            return False
        else:
            return True


def _clear(folder: str) -> None:
    """Remove what a killed process left; only ever called under the folder's lock."""
    with os.scandir(folder) as entries:
        for entry in entries:
            if entry.name.startswith(_PREFIX) and entry.name.endswith(_SUFFIX):
                with suppress(OSError):
                    os.unlink(entry.path)  # noqa: PTH108


def _write_all(jobs: Sequence[_Job], current: _Current) -> None:
    try:
        for job in jobs:
            current.path = job.path
            _write_nameless(job)
        with _uninterrupted():
            _place_all(jobs, current)
    finally:
        for job in jobs:
            _tidy(job)


def _place_all(jobs: Sequence[_Job], current: _Current) -> None:
    try:
        for job in jobs:
            current.path = job.path
            if len(jobs) > 1:
                _keep_old(job)
            _place(job)
    except BaseException:
        for job in reversed(jobs):
            _undo(job)
        raise
    finally:
        for job in jobs:
            _tidy(job)
    for folder in sorted({job.folder for job in jobs}):
        _sync_folder(folder)


@contextmanager
def _uninterrupted() -> Iterator[None]:
    """Let signals wait for the few renames.

    Handlers are exchanged rather than signals masked: a mask holds for one thread, and numerical libraries
    run others. Outside the main thread Python raises no interrupts.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []
    before = {number: signal.getsignal(number) for number in _WAITING}
    before = {number: handler for number, handler in before.items() if handler is not None}
    try:
        for number in before:
            signal.signal(number, lambda number, _frame: came.append(number))
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        for number in came:
            signal.raise_signal(number)


def _write_nameless(job: _Job) -> None:
    """Bring the bytes to the disk in the target's folder, under no name or a passing one."""
    nameless = getattr(os, "O_TMPFILE", None)
    if nameless is not None and Path("/proc/self/fd").is_dir():
        with suppress(OSError):
            job.descriptor = os.open(job.folder, nameless | os.O_RDWR, 0o666)
    if job.descriptor is None:
        job.passing = name = job.new_name()
        job.descriptor = os.open(name, os.O_CREAT | os.O_EXCL | os.O_RDWR | getattr(os, "O_BINARY", 0), 0o666)
    rest = memoryview(job.data)
    while rest:
        rest = rest[os.write(job.descriptor, rest) :]
    if job.mode is not None and hasattr(os, "fchmod"):
        os.fchmod(job.descriptor, job.mode)
    os.fsync(job.descriptor)
    written = os.fstat(job.descriptor)
    job.identity = written.st_dev, written.st_ino


def _keep_old(job: _Job) -> None:
    """Give an existing target a second name, to put it back from if a later file fails."""
    if job.mode is None:
        return
    job.backup = job.new_name()
    try:
        os.link(job.target, job.backup)
    except OSError:
        # Some file systems know no second names: the rare failure between two renames has no way back there.
        job.backup = None


def _place(job: _Job) -> None:
    """Give the written file its name, in one step as others see it."""
    assert job.descriptor is not None
    if job.passing is None:
        source = f"/proc/self/fd/{job.descriptor}"
        folder = os.open(job.folder, os.O_RDONLY)
        try:
            # Only with a folder's descriptor does Python call linkat, which follows the link in /proc.
            if job.mode is None:
                with suppress(FileExistsError):
                    os.link(source, os.path.basename(job.target), dst_dir_fd=folder)  # noqa: PTH119
                    return
            job.passing = name = job.new_name()
            os.link(source, os.path.basename(name), dst_dir_fd=folder)  # noqa: PTH119
        finally:
            os.close(folder)
    if os.name == "nt":  # pragma: no cover - an open file cannot be renamed there
        os.close(job.descriptor)
        job.descriptor = None
    os.replace(job.passing, job.target)  # noqa: PTH105
    job.passing = None


def _sync_folder(folder: str) -> None:
    # Not every file system lets a folder be synced, and the files themselves already are.
    with suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _undo(job: _Job) -> None:
    """Put back what was there before, where the written file has already taken its place."""
    with suppress(OSError):
        found = os.stat(job.target)  # noqa: PTH116
        if (found.st_dev, found.st_ino) != job.identity:
            return
        if job.backup is not None:
            os.replace(job.backup, job.target)  # noqa: PTH105
        elif job.mode is None:
            os.unlink(job.target)  # noqa: PTH108


def _tidy(job: _Job) -> None:
    """Close and remove what is left over; harmless when done twice."""
    if job.descriptor is not None:
        with suppress(OSError):
            os.close(job.descriptor)
        job.descriptor = None
    for name in (job.passing, job.backup):
        if name is not None:
            with suppress(OSError):
                os.unlink(name)  # noqa: PTH108
    job.passing = job.backup = None

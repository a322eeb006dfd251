"""The desk itself: the job document, the drawings of its stickers, and what is told of both."""

import threading
from collections.abc import Callable
from typing import Any

from starlette.requests import Request

from limner.colour import Palette
from limner.demo import JOB_NAME, demo_files
from limner.desk.edits.edit import Edit
from limner.desk.edits.inherited import as_shown
from limner.desk.server.colours import colours_json, palette_of
from limner.desk.server.drawings import Drawings, Entry
from limner.desk.server.hub import Hub
from limner.desk.server.sheets import Sheets
from limner.desk.server.shelf import Shelf
from limner.desk.server.trying import Trying
from limner.desk.state.document import JobDocument
from limner.desk.work.bench import Bench
from limner.desk.work.plan import file_stamp, task_of
from limner.desk.work.tasks import DrawTask
from limner.errors import InputError
from limner.job import Job, Mistake, UsableJob
from limner.output import write_whole
from limner.pipeline import KEPT_FOLDER

__all__ = ["Desk", "desk_of"]


class Desk:
    """A job on the desk.

    Parameters
    ----------
    document : JobDocument
        The job.
    bench : Bench
        Where its stickers are drawn.
    sheet_bench : Bench or None
        Where its sheet is made; None: in the same place.
    notes : sequence of str
        What is to be said from the beginning.
    """

    def __init__(
        self,
        document: JobDocument,
        bench: Bench,
        sheet_bench: Bench | None = None,
        notes: tuple[str, ...] = (),
    ) -> None:
        self.document, self.notes = document, notes
        self._benches = (bench, sheet_bench or bench)
        self.hub = Hub()
        self.drawings = Drawings(bench, Shelf(document.path.parent / KEPT_FOLDER), self._tell_sticker)
        self.trying = Trying(bench, self.drawings)
        self.sheets = Sheets(document, self.drawings, sheet_bench or bench, self.hub)
        self._lock = threading.Lock()
        self._seen: list[str] = []
        self._follow()

    def begin(self) -> None:
        """Start the processes, so that the first sketch need not wait for them."""
        for bench in self._benches:
            bench.begin()

    def close(self) -> None:
        """End what is under way."""
        for bench in self._benches:
            bench.close()
        self.document.close()

    def state(self) -> dict[str, Any]:
        """All that the page shows but the drawings."""
        now = self.document.now()
        job = now.usable.job
        palette = None if job is None else palette_of(job)
        problems = [
            {"sentence": one.sentence, "line": one.line, "sticker": one.sticker} for one in now.problems
        ]
        return {
            "revision": now.revision,
            "name": self.document.path.stem,
            "folder_name": self.document.path.absolute().parent.name,
            "document": as_shown(now.usable.data),
            "problems": [{"sentence": note, "line": None, "sticker": None} for note in self.notes] + problems,
            "colours": [] if palette is None else colours_json(palette),
            "stickers": self._stickers(now.problems),
            "undo": now.undo,
            "redo": now.redo,
            "sheet": {"token": self.sheets.token, **_paper(job, palette)},
        }

    def change(self, make: Callable[[], int]) -> int:
        """Change the job, and tell of it; the revision after it."""
        before = self.document.revision
        try:
            return make()
        finally:
            if self.document.revision != before:
                self._changed()

    def look(self) -> None:
        """See whether another program has changed the job, or its sketches."""
        if self.document.refresh(patient=True):
            self._changed()
        elif self._stamps() != self._seen:
            self._follow()

    def tried(self, name: str, edits: tuple[Edit, ...]) -> DrawTask | None:
        """The task of a sticker as the job would be; None where there is no such sticker."""
        _, usable = self.document.tried(edits)
        return _tasks(usable).get(name)

    def take_demo(self, revision: int) -> int:
        """Put the tide-pool sheet onto an empty desk; the revision after it.

        Raises
        ------
        LimnerError
            The desk is not empty, or its folder cannot be written.
        """
        if self.document.usable.data.get("sticker"):
            raise InputError("The tide-pool sheet is for an empty desk: this one has sketches.")
        files = demo_files()
        text = files.pop(JOB_NAME).decode("utf-8")
        folder = self.document.path.parent
        missing = {folder / name: data for name, data in files.items() if not (folder / name).exists()}
        write_whole(missing)
        return self.document.take(revision, "The tide-pool sheet", text)

    def _changed(self) -> None:
        self._follow()
        self.hub.tell({"kind": "state", "revision": self.document.revision})

    def _follow(self) -> None:
        with self._lock:
            self.drawings.ask(_tasks(self.document.usable))
            self._seen = self._stamps()

    def _stamps(self) -> list[str]:
        """Others, as soon as the file of a sketch is another one."""
        return [file_stamp(entry.task.path) for entry in self.drawings.all()]

    def _stickers(self, mistakes: tuple[Mistake, ...]) -> list[dict[str, Any]]:
        found = [_sticker(entry) for entry in self.drawings.all()]
        shown = {one["name"] for one in found}
        for mistake in mistakes:
            if mistake.sticker is not None and mistake.sticker not in shown:
                shown.add(mistake.sticker)
                found.append(
                    {
                        "name": mistake.sticker,
                        "sketch": None,
                        "art": None,
                        "state": "failed",
                        "sentence": mistake.sentence,
                        "token": None,
                        "photograph": False,
                    }
                )
        return found

    def _tell_sticker(self, entry: Entry) -> None:
        one = _sticker(entry)
        self.hub.tell(
            {"kind": "sticker", **{key: one[key] for key in ("name", "state", "token", "sentence")}}
        )


def desk_of(request: Request) -> Desk:
    """The desk that a request is for."""
    desk = request.app.state.desk
    assert isinstance(desk, Desk)
    return desk


def _paper(job: Job | None, palette: Palette | None) -> dict[str, Any]:
    """The sheet before anything lies on it."""
    if job is None or palette is None:
        return {"width_mm": None, "height_mm": None, "background": None}
    width, height = job.tables.sheet.trim_mm
    background = job.tables.sheet.background
    screen = None if background is None else palette.of(background).screen
    return {"width_mm": width, "height_mm": height, "background": screen}


def _tasks(usable: UsableJob) -> dict[str, DrawTask]:
    job = usable.job
    if job is None:
        return {}
    palette = palette_of(job)
    wrong = {mistake.sticker for mistake in usable.mistakes}
    return {
        sticker.name: task_of(job, sticker, palette, numbered=sticker.name not in wrong)
        for sticker in job.stickers
    }


def _sticker(entry: Entry) -> dict[str, Any]:
    task = entry.task
    return {
        "name": task.sticker,
        "sketch": None if task.is_art else task.path.name,
        "art": task.path.name if task.is_art else None,
        "state": entry.state,
        "sentence": entry.sentence or None,
        "token": entry.token or None,
        "photograph": not task.is_art,
    }

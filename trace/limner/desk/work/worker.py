"""What a process of the desk does: it draws one sticker after the other, and remembers their sketches.

Method: each sketch has a session (`WarmSketch`) that works out anew only what a change concerns. The sessions
used last are held. What is drawn is kept beside the job as well, once nobody waits for the next drawing, so
that the sheet finds it there.
"""

import hashlib
from collections import OrderedDict
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from limner.desk.work.tasks import DrawTask, Outcome, SheetTask, Task, Tell
from limner.errors import LimnerError
from limner.pipeline import STAGES, TraceResult, WarmSketch, load_ahead

if TYPE_CHECKING:
    from limner.pipeline import HeldStore

__all__ = ["Draughtsman"]

_FAULT = "limner met a fault of its own here ({what}): please report it together with the sketch."

# The longest side of the picture of the page: as fine as a large screen shows it.
_LONGEST_PX = 2400
_JPEG_QUALITY = 85


@dataclass(slots=True)
class _Session:
    """A sketch in memory, and the picture of its page that was sent last."""

    sketch: WarmSketch
    colour: Any = None
    photograph: str = ""


class Draughtsman:
    """Does the tasks of one process.

    Parameters
    ----------
    sessions : int
        How many sketches are held in memory: some 70 MB each.
    """

    def __init__(self, sessions: int = 3) -> None:
        load_ahead(*STAGES)
        self._most = sessions
        self._sessions: OrderedDict[Path, _Session] = OrderedDict()
        self._store: HeldStore | None = None
        self._later: dict[tuple[Path, str], Callable[[], None]] = {}

    def do(self, task: Task, tell: Tell) -> Outcome:
        """Do one task; whatever goes wrong becomes one sentence.

        Parameters
        ----------
        task : DrawTask or SheetTask
            What is asked for.
        tell : callable
            Told how far it is.
        """
        try:
            if isinstance(task, SheetTask):
                return self._sheet(task, tell)
            return _art(task) if task.is_art else self._traced(task)
        except LimnerError as error:
            return Outcome(sentence=str(error))
        except MemoryError:
            return Outcome(sentence="It needs more memory than there is: make the picture smaller.")
        except Exception as error:
            return Outcome(sentence=_FAULT.format(what=f"{type(error).__name__}: {error}"[:200]))

    def rest(self) -> None:
        """Do what nobody waits for: keep the last drawing of each sketch."""
        while self._later:
            _, keep = self._later.popitem()
            with suppress(Exception):  # what is not kept is only drawn again
                keep()

    def _traced(self, task: DrawTask) -> Outcome:
        from limner.desk.work.drawing import drawing_json

        session = self._session(task.path)
        result = session.sketch.trace(task.settings)
        picture = b""
        if result.page.colour is not session.colour:
            picture = _jpeg(result.page.colour)
            session.colour = result.page.colour
            session.photograph = hashlib.sha256(picture).hexdigest()[:20]
        if task.keep_in is not None:
            self._later[task.path, task.sticker] = partial(_keep, task, result)
        drawing = drawing_json(result)
        return Outcome({"photograph": session.photograph, **drawing}, picture)

    def _sheet(self, task: SheetTask, tell: Tell) -> Outcome:
        from limner.desk.work.sheet import make_cut, make_sheet, write_files
        from limner.pipeline import KEPT_FOLDER, HeldStore

        if task.kind == "write":
            return Outcome(write_files(task, tell))
        if self._store is None:
            self._store = HeldStore(task.path.parent / KEPT_FOLDER)
        return Outcome(make_cut(task, self._store) if task.kind == "cut" else make_sheet(task, self._store))

    def _session(self, path: Path) -> _Session:
        session = self._sessions.pop(path, None)
        while session is None and len(self._sessions) >= self._most:
            gone, _ = self._sessions.popitem(last=False)
            self._later = {key: keep for key, keep in self._later.items() if key[0] != gone}
        session = self._sessions[path] = session or _Session(WarmSketch(path))
        return session


def _keep(task: DrawTask, result: TraceResult) -> None:
    from limner.pipeline import keep_trace

    assert task.keep_in is not None
    keep_trace(task.keep_in, task.path, task.settings, result)


def _art(task: DrawTask) -> Outcome:
    from limner.desk.work.drawing import art_json
    from limner.pipeline import read_sticker_art

    drawing = read_sticker_art(task.path, task.settings)
    return Outcome({"photograph": "", **art_json(drawing)})


def _jpeg(colour: Any) -> bytes:
    """The page as a picture that a browser shows; empty where it cannot be made."""
    import cv2

    height, width = colour.shape[:2]
    scale = min(1.0, _LONGEST_PX / max(height, width))
    with suppress(cv2.error):
        if scale < 1.0:
            size = (max(1, round(width * scale)), max(1, round(height * scale)))
            colour = cv2.resize(colour, size, interpolation=cv2.INTER_AREA)
        made, data = cv2.imencode(".jpg", colour[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, _JPEG_QUALITY])
        return bytes(data) if made else b""
    return b""

"""What a process of the desk does: it draws one sticker after the other, and remembers their sketches."""

from contextlib import suppress
from typing import Any

from limner.desk.work.tasks import DrawTask, Outcome, SheetTask, Task, Tell
from limner.errors import LimnerError

__all__ = ["FAULT", "draw"]

FAULT = "limner met a fault of its own here ({what}): please report it together with the sketch."
"""What a user is told of a sketch on which limner itself failed."""

# The longest side of the picture of the page: as fine as a large screen shows it.
_LONGEST_PX = 2400
_JPEG_QUALITY = 85


def draw(task: Task, tell: Tell) -> Outcome:
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
            return _sheet(task, tell)
        return _art(task) if task.is_art else _traced(task)
    except LimnerError as error:
        return Outcome(sentence=str(error))
    except MemoryError:
        return Outcome(sentence="It needs more memory than there is: make the picture smaller.")
    except Exception as error:
        return Outcome(sentence=FAULT.format(what=f"{type(error).__name__}: {error}"[:200]))


def _sheet(task: SheetTask, tell: Tell) -> Outcome:
    from limner.desk.work.sheet import make_sheet, write_files

    return Outcome(write_files(task, tell) if task.is_written else make_sheet(task))


def _traced(task: DrawTask) -> Outcome:
    from limner.desk.work.drawing import drawing_json
    from limner.pipeline import trace

    result = trace(task.path, task.settings)
    drawing = drawing_json(result, task.settings, task.rules)
    return Outcome({"token": task.token, **drawing}, _jpeg(result.page.colour))


def _art(task: DrawTask) -> Outcome:
    from limner.desk.work.drawing import art_json
    from limner.pipeline import read_sticker_art

    drawing = read_sticker_art(task.path, task.settings)
    return Outcome({"token": task.token, **art_json(drawing, task.rules)})


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

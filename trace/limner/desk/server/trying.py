"""Drawings as they would be, while a number is dragged: of several asked for, only the newest counts."""

from concurrent.futures import Future

from limner.desk.server.drawings import Drawings
from limner.desk.work.bench import Bench
from limner.desk.work.tasks import DrawTask, Outcome

__all__ = ["Trying"]


class Trying:
    """Asks for drawings that nobody has decided on yet.

    Parameters
    ----------
    bench : Bench
        Where they are made.
    drawings : Drawings
        Told of each, so that it is there already once it is decided on.
    """

    def __init__(self, bench: Bench, drawings: Drawings) -> None:
        self._bench, self._drawings = bench, drawings
        self._newest: dict[str, int] = {}

    def begin(self, name: str) -> int:
        """A number for a new question about a sticker, which makes older ones idle."""
        self._newest[name] = number = self._newest.get(name, 0) + 1
        return number

    def is_newest(self, name: str, number: int) -> bool:
        """Whether no newer question about that sticker has come."""
        return self._newest.get(name) == number

    def ask(self, task: DrawTask) -> "Future[Outcome | bytes | None]":
        """The drawing in JSON, what failed, or None where a newer question took its place."""
        asked: Future[Outcome | bytes | None] = Future()
        known = self._drawings.known(task)
        if known is not None:
            asked.set_result(known)
            return asked

        def done(outcome: Outcome | None) -> None:
            if outcome is None or outcome.value is None:
                asked.set_result(outcome)
            else:
                asked.set_result(self._drawings.remember(task, outcome))

        self._bench.submit(("try", task.sticker), task, done, first=True)
        return asked

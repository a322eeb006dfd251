"""What happens, told to every page that listens."""

import asyncio
import json
import threading
from collections.abc import AsyncIterator
from typing import Any

__all__ = ["Hub"]

# A page that has not listened for so many events is told to look anew.
_MOST_WAITING = 500

# A comment now and then, so that a lost connection is noticed.
_BEAT_S = 15.0


class Hub:
    """Tells events to pages; safe to call from any thread."""

    def __init__(self) -> None:
        self._loop: asyncio.AbstractEventLoop | None = None
        self._queues: set[asyncio.Queue[str | None]] = set()
        self._lock = threading.Lock()

    def begin(self) -> None:
        """Called in the loop that serves."""
        self._loop = asyncio.get_running_loop()

    def end(self) -> None:
        """Let all pages go."""
        for queue in self._all():
            self._put(queue, None)

    def tell(self, event: dict[str, Any]) -> None:
        """Tell an event to all that listen."""
        loop = self._loop
        if loop is None or loop.is_closed():
            return
        line = f"data: {json.dumps(event, separators=(',', ':'))}\n\n"
        loop.call_soon_threadsafe(self._spread, line)

    async def listen(self, first: dict[str, Any]) -> AsyncIterator[str]:
        """Events as they come, after a first one."""
        queue: asyncio.Queue[str | None] = asyncio.Queue(_MOST_WAITING)
        with self._lock:
            self._queues.add(queue)
        try:
            yield f"data: {json.dumps(first, separators=(',', ':'))}\n\n"
            while True:
                try:
                    line = await asyncio.wait_for(queue.get(), _BEAT_S)
                except TimeoutError:
                    line = ": still here\n\n"
                if line is None:
                    return
                yield line
        finally:
            with self._lock:
                self._queues.discard(queue)

    def _spread(self, line: str) -> None:
        for queue in self._all():
            self._put(queue, line)

    def _all(self) -> list[asyncio.Queue[str | None]]:
        with self._lock:
            return list(self._queues)

    def _put(self, queue: asyncio.Queue[str | None], line: str | None) -> None:
        if queue.full():
            # It begins again with a first event, and looks at everything anew.
            while not queue.empty():
                queue.get_nowait()
            line = None
        queue.put_nowait(line)

"""Kept results that are held in memory as well, for a process that makes a sheet again and again."""

from collections import OrderedDict
from pathlib import Path
from typing import TypeVar

from limner.pipeline.kept.store import Kept, Store
from limner.sheet import Cut

__all__ = ["HeldStore"]

T = TypeVar("T", Kept | None, Cut | None)

# Drawings and cut lines of some sheets; a drawing takes about 200 kB.
_MOST_HELD = 120


class HeldStore(Store):
    """A store that reads each drawing and each cut line once.

    Parameters
    ----------
    folder : Path
        As for `Store`.
    """

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self._held: OrderedDict[str, Kept | Cut] = OrderedDict()

    def load(self, key: str) -> Kept | None:
        """The trace of that key, or None where there is none that can be trusted."""
        held = self._held.get(key)
        return held if isinstance(held, Kept) else self._hold(key, super().load(key))

    def save(self, key: str, kept: Kept) -> None:
        """Keep a trace; a folder that cannot be written is no error."""
        super().save(key, kept)
        self._hold(key, kept)

    def load_cut(self, key: str) -> Cut | None:
        """The cut line of that key, or None where there is none that can be trusted."""
        held = self._held.get(key)
        return held if isinstance(held, Cut) else self._hold(key, super().load_cut(key))

    def save_cut(self, key: str, cut: Cut) -> None:
        """Keep a cut line; a folder that cannot be written is no error."""
        super().save_cut(key, cut)
        self._hold(key, cut)

    def _hold(self, key: str, value: T) -> T:
        if value is not None:
            self._held[key] = value
            while len(self._held) > _MOST_HELD:
                self._held.popitem(last=False)
        return value

"""What the steps of a trace gave last, and from what: a step whose sources are the same is not taken again.

Sources are compared by ``==``: settings by their values, rasters and maps by identity, as no step changes
what it is given.
"""

from collections.abc import Callable
from typing import Any, TypeVar

__all__ = ["Memory"]

T = TypeVar("T")


class Memory:
    """Results of steps by their sources, the last few of each step."""

    def __init__(self) -> None:
        self._results: dict[str, list[tuple[tuple[Any, ...], Any]]] = {}

    def given(self, step: str, sources: tuple[Any, ...], make: Callable[[], T], most: int = 1) -> T:
        """The result of a step, made where it is not remembered.

        Parameters
        ----------
        step : str
            Which step.
        sources : tuple
            All that its result depends on.
        make : callable
            Takes the step.
        most : int
            How many results of the step are remembered.
        """
        results = self._results.setdefault(step, [])
        found = next((entry for entry in results if entry[0] == sources), None)
        if found is None:
            found = sources, make()
        else:
            results.remove(found)
        results.append(found)
        del results[:-most]
        result: T = found[1]
        return result

"""Fits kept by what was fitted, so that a line that did not change costs nothing and stays the same bytes.

Every line is fitted by itself, so a fit depends on its own polyline alone.
"""

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import replace

from limner.curves.fit.fitting import fit_paths
from limner.curves.fit.polylines import Fit, Polyline
from limner.curves.fit.spliced import marked_fit

__all__ = ["FitStore"]

# Some fifty drawings, or the rungs of budgets of a few: under 10 MB, as a segment takes about 100 bytes.
_MOST_SEGMENTS = 60_000


class FitStore:
    """Fits by the content of their polylines; those used last are kept."""

    def __init__(self) -> None:
        self._fits: OrderedDict[bytes, Fit] = OrderedDict()
        self._segments = 0

    def fits(self, polylines: Sequence[Polyline]) -> list[Fit]:
        """What `fit_paths` gives, of which only what is not known is worked out.

        Parameters
        ----------
        polylines : sequence of Polyline
            What is to be fitted.

        Returns
        -------
        list of Fit
            In their order.
        """
        keys = [line.key for line in polylines]
        unknown = {key: line for key, line in zip(keys, polylines, strict=True) if key not in self._fits}
        # Those with marks are made of what they are without.
        plain = [replace(line, asked=()) if line.asked else line for line in unknown.values()]
        new = {line.key: line for line in plain if line.key not in self._fits}
        for key, fit in zip(new, fit_paths(list(new.values())), strict=True):
            self._add(key, fit)
        for key, line in unknown.items():
            if line.asked:
                self._add(key, marked_fit(line, self._fit))
        found = [self._fits[key] for key in keys]
        for key in keys:
            self._fits.move_to_end(key)
        self._forget_old()
        return found

    def _fit(self, line: Polyline) -> Fit:
        key = line.key
        if key not in self._fits:
            self._add(key, marked_fit(line, self._fit) if line.asked else fit_paths([line])[0])
        return self._fits[key]

    def _add(self, key: bytes, fit: Fit) -> None:
        self._fits[key] = fit
        self._segments += len(fit.path.segments)

    def _forget_old(self) -> None:
        while self._segments > _MOST_SEGMENTS and len(self._fits) > 1:
            self._segments -= len(self._fits.popitem(last=False)[1].path.segments)

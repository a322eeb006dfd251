"""Fits kept by what was fitted, so that a line that did not change costs nothing and stays the same bytes.

Every line is fitted by itself, so a fit depends on its own polyline alone.
"""

from collections import OrderedDict
from collections.abc import Sequence

from limner.curves.fit.fitting import fit_paths
from limner.curves.fit.polylines import Fit, Polyline

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
        for key, fit in zip(unknown, fit_paths(list(unknown.values())), strict=True):
            self._fits[key] = fit
            self._segments += len(fit.path.segments)
        found = [self._fits[key] for key in keys]
        for key in keys:
            self._fits.move_to_end(key)
        while self._segments > _MOST_SEGMENTS and len(self._fits) > 1:
            self._segments -= len(self._fits.popitem(last=False)[1].path.segments)
        return found

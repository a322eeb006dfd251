"""A colour that stands out from all others: for marks that must not be taken for art."""

from collections.abc import Iterable, Sequence

from limner.colour.press import cmyk_to_screen_naive, lab_from_screen
from limner.model.colour import PressColour, rgb_of, screen_of

__all__ = ["standout_colour"]

Cmyk = tuple[float, float, float, float]

# Pure, strong mixtures of one or two inks: what an operator sees at once on a proof. No blacks, as the
# art's own lines are black.
_CANDIDATES: tuple[Cmyk, ...] = (
    (0.0, 100.0, 0.0, 0.0),
    (100.0, 0.0, 0.0, 0.0),
    (75.0, 0.0, 100.0, 0.0),
    (0.0, 95.0, 100.0, 0.0),
    (100.0, 60.0, 0.0, 0.0),
    (0.0, 50.0, 100.0, 0.0),
    (60.0, 100.0, 0.0, 0.0),
)


def standout_colour(name: str, screens: Iterable[str]) -> PressColour:
    """The candidate farthest in Lab from the nearest of the colours in use.

    Parameters
    ----------
    name : str
        Name of the colour that is made, such as that of the separation of the cut lines.
    screens : iterable of str
        Screen values "#rrggbb" in use; paper white always counts as one of them.

    Returns
    -------
    PressColour
        Its press value is the alternate colour of the separation.
    """
    used = [lab_from_screen(rgb_of(screen)) for screen in sorted({*screens, "#ffffff"})]

    def clearance(cmyk: Cmyk) -> float:
        lab = lab_from_screen(cmyk_to_screen_naive(cmyk))
        return min(_squared_distance(lab, other) for other in used)

    best = max(_CANDIDATES, key=clearance)
    screen = cmyk_to_screen_naive(best)
    return PressColour(name, best, screen_of(screen), "default", None)


def _squared_distance(a: Sequence[float], b: Sequence[float]) -> float:
    return sum((x - y) ** 2 for x, y in zip(a, b, strict=True))

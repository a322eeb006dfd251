"""Where an outline lies on the sheet."""

from dataclasses import dataclass

__all__ = ["Pose"]


@dataclass(frozen=True, slots=True)
class Pose:
    """Where an outline lies.

    Parameters
    ----------
    x, y : float
        Where the origin of its coordinates goes.
    turn_deg : float
        By how much it is turned about its origin, clockwise to the eye as y runs down.
    """

    x: float
    y: float
    turn_deg: float

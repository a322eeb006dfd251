"""Tints for areas to which neither the job nor the sketch gives a colour.

Light, calm colours with little ink and clearly different hues, so that black lines stay readable on
them and neighbours can differ. Their press values are chosen in steps of 5 percent (no source).
"""

from limner.colour.spec import ColourSpec

__all__ = ["DEFAULT_TINTS", "default_tint"]

DEFAULT_TINTS: tuple[ColourSpec, ...] = tuple(
    ColourSpec(cmyk=cmyk)
    for cmyk in (
        (0.0, 25.0, 40.0, 0.0),  # apricot
        (35.0, 5.0, 15.0, 0.0),  # shallow water
        (5.0, 5.0, 45.0, 0.0),  # lemon
        (0.0, 40.0, 20.0, 0.0),  # coral
        (30.0, 0.0, 45.0, 0.0),  # sea lettuce
        (20.0, 25.0, 0.0, 0.0),  # sea lavender
        (15.0, 25.0, 40.0, 5.0),  # wet sand
    )
)


def default_tint(index: int) -> ColourSpec:
    """The tint of the area with this number; they come round again after the last."""
    return DEFAULT_TINTS[index % len(DEFAULT_TINTS)]

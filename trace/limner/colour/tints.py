"""Press values of limner's own tints, for areas to which neither the job nor the sketch gives a colour.

The tints are chosen on screen, where a drawing is traced; these inks, few and light, come near to them
on coated paper. Steps of a few percent, chosen by eye with no source; with a press profile the profile
decides instead.
"""

__all__ = ["TINT_INKS"]

TINT_INKS: dict[str, tuple[float, float, float, float]] = {
    "#ffffff": (0.0, 0.0, 0.0, 0.0),  # bare paper
    "#f2dcb8": (4.0, 13.0, 30.0, 0.0),  # sand
    "#bfe3d6": (27.0, 0.0, 19.0, 0.0),  # seafoam
    "#f4b39d": (0.0, 36.0, 36.0, 0.0),  # coral
    "#f6d3d8": (0.0, 21.0, 9.0, 0.0),  # shell pink
    "#b9cf95": (30.0, 6.0, 50.0, 0.0),  # kelp
    "#a9d4e6": (36.0, 4.0, 6.0, 0.0),  # lagoon
    "#f7e08f": (0.0, 9.0, 50.0, 0.0),  # sun
    "#cfc3e6": (18.0, 24.0, 0.0, 0.0),  # lilac
    "#d9dee2": (13.0, 8.0, 7.0, 0.0),  # mist
}

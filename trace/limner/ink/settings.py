"""What a user may want to change about finding the ink; everything else follows from the drawing."""

from dataclasses import dataclass

__all__ = ["InkSettings"]


@dataclass(frozen=True, slots=True)
class InkSettings:
    """Settings of the ink stage.

    Parameters
    ----------
    faintest : float
        How dark a line must be at its darkest place, as a share of the drawing's typical line, to count
        as meant: paler ones are taken for erased ghosts and smudges. 0.33 keeps construction lines that
        were left standing and drops what a rubber leaves.
    speck : float
        Marks shorter than this many line widths are taken for specks, unless they are as dark as the lines
        and lie within the drawing (then they are freckles and dots).
    merge : float
        Slivers of paper between strokes that are narrower than this many line widths are closed, so
        that a line made of several strokes becomes one line.
    solid : float
        Dark places wider than this many line widths are solid blacks rather than lines.
    ruling : bool
        Whether the ruling of ruled or squared paper is looked for and taken out.
    """

    faintest: float = 0.33
    speck: float = 3.0
    merge: float = 0.5
    solid: float = 3.0
    ruling: bool = True

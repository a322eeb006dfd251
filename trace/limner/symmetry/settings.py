"""Settings of the symmetry stage."""

from dataclasses import dataclass

__all__ = ["SymmetrySettings"]


@dataclass(frozen=True, slots=True)
class SymmetrySettings:
    """How an axis is looked for and how a drawing is mirrored about it.

    Parameters
    ----------
    seam_deg : float
        A line that meets the axis within this angle of perpendicular runs smoothly across it; one that
        meets it more steeply makes a corner there.
    reach_width : float
        How far a line may stop short of the axis, or run over it, and still be taken to end on it: in
        typical line widths.
    reach_share : float
        The same as a share of the drawing's size; the larger of the two counts.
    min_whole_score : float
        Share of the ink (0 to 1) that must find its mirror image for a whole drawing to count as symmetric.
    min_half_score : float
        Score (0 to 1) from which the axis of a half-drawn figure is trusted.
    """

    seam_deg: float = 25.0
    reach_width: float = 1.3
    reach_share: float = 0.02
    min_whole_score: float = 0.75
    min_half_score: float = 0.5

"""Settings of the capture stage."""

from dataclasses import dataclass

from limner.errors import InputError
from limner.geometry.lengths import ISO_216_MM, paper_choice

__all__ = ["CaptureSettings"]


@dataclass(frozen=True, slots=True)
class CaptureSettings:
    """How the page is taken from the photograph.

    Parameters
    ----------
    paper : str
        "auto": straighten the sheet where it is found beyond doubt; "none": the photograph is the
        page; a size of ISO 216 such as "A4": the sheet has that size, and must be found.
    width_mm : float or None
        True width of the whole page (the photograph, or the paper once straightened).

    Raises
    ------
    InputError
        An unknown paper, or a width that is not positive.
    """

    paper: str = "auto"
    width_mm: float | None = None

    def __post_init__(self) -> None:
        if paper_choice(self.paper) != self.paper:
            names = ", ".join(ISO_216_MM)
            raise InputError(f'paper "{self.paper}" is not known: write auto, none or one of {names}.')
        if self.width_mm is not None and not self.width_mm > 0.0:
            raise InputError(f"the width of the page must be above zero, not {self.width_mm:g} mm.")

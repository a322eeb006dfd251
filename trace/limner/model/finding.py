"""What a check found: one remark about the sheet, with its place and its mend."""

from dataclasses import dataclass
from typing import Literal

__all__ = ["Finding", "Severity"]

Severity = Literal["error", "warning", "note"]
"""error: must be mended before printing (exit code 1); warning: may spoil the print, look at it;
note: good to know."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One remark about the sheet.

    Parameters
    ----------
    severity : Severity
        How grave it is.
    code : str
        Stable short name of the kind of finding, lower case with hyphens, such as "cut-too-near".
    where_mm : tuple of float or None
        Its place (x, y) in sheet coordinates (see `limner.model.sheet`); None where it concerns the
        whole sheet.
    message : str
        One sentence: what is wrong, where, and what to do about it.
    """

    severity: Severity
    code: str
    where_mm: tuple[float, float] | None
    message: str

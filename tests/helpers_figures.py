"""How many drawings of an outside set a figure is measured on.

A run of all tests takes a share of each set, so that it stays short; ``LIMNER_FIGURES=whole`` takes all of
them, which a release asks for.
"""

import os
from collections.abc import Sequence
from typing import TypeVar

__all__ = ["WHOLE", "share_of"]

WHOLE = os.environ.get("LIMNER_FIGURES") == "whole"
"""Whether figures are measured on whole sets."""

T = TypeVar("T")


def share_of(drawings: Sequence[T], every: int) -> list[T]:
    """Every so manyth drawing, or all of them where whole sets were asked for."""
    return list(drawings if WHOLE else drawings[::every])

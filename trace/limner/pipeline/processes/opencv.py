"""OpenCV so that the same input gives the same bits.

On a single thread OpenCV 5.0 hands its exact distance transform to Intel's IPP, whose results differ in their
last bits with the alignment of the arrays in memory (eight different ones on one picture); on several threads
it goes its own way to yet another result. So drawings differed between one core and two, and from one run
to the next. Without IPP there is one result, nearer to the true distances, in the same time. Tracing as a
whole takes no longer without IPP (measured on pictures of 3 and 12 megapixels).

Limits: the setting belongs to the thread that makes it.
"""

from collections.abc import Iterator
from contextlib import contextmanager

import cv2

__all__ = ["steady_opencv"]


@contextmanager
def steady_opencv() -> Iterator[None]:
    """Keep OpenCV from using IPP inside; what it was set to before holds again afterwards."""
    before = cv2.ipp.useIPP()
    cv2.ipp.setUseIPP(False)
    try:
        yield
    finally:
        cv2.ipp.setUseIPP(before)

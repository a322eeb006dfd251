"""Small drawings as files, quick to trace, and the command in a process of its own."""

import subprocess
import sys
from collections.abc import Mapping
from io import BytesIO
from pathlib import Path

import numpy as np
from PIL import Image

# Ring and dot: inside of the ring, and inside of the dot, which keeps its black.
RING_AREAS = 2


def ring_pixels(size: int = 240, *, line_px: float = 5.0) -> np.ndarray:
    """Grey levels of a ring with a dot in it, shape (size, size)."""
    y, x = np.mgrid[0:size, 0:size] + 0.5
    distance = np.hypot(x - size / 2, y - size / 2)
    ink = np.clip(line_px / 2 + 0.5 - np.abs(distance - 0.33 * size), 0, 1)
    ink = np.maximum(ink, np.clip(2.5 * line_px - distance, 0, 1))
    return np.asarray(np.round(235 - 175 * ink), np.uint8)


def picture_bytes(pixels: np.ndarray, kind: str = "PNG", **options: object) -> bytes:
    """The pixels as a file of that kind."""
    stream = BytesIO()
    Image.fromarray(pixels).save(stream, kind, **options)
    return stream.getvalue()


def write_ring(path: Path, size: int = 240) -> Path:
    """Write the ring as a picture, in PNG whatever the name says."""
    path.write_bytes(picture_bytes(ring_pixels(size)))
    return path


def limner_command(*arguments: object) -> list[str | bytes]:
    """The command line of a process that runs limner."""
    given = [argument if isinstance(argument, bytes) else str(argument) for argument in arguments]
    return [sys.executable, "-m", "limner", *given]


def run_limner(
    *arguments: object, env: Mapping[str, str] | None = None, timeout_s: float = 60.0
) -> subprocess.CompletedProcess[str]:
    """Run the command in a process of its own; longer than the time limit is a failure."""
    return subprocess.run(
        limner_command(*arguments),
        env=env,
        capture_output=True,
        encoding="utf-8",
        errors="replace",
        timeout=timeout_s,
        check=False,
    )

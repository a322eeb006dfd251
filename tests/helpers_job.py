"""A job file as the contract shows it, with empty sketches beside it."""

import dataclasses
from pathlib import Path

import numpy as np

__all__ = ["CONTRACT_JOB", "RING_JOB", "write_job", "written_out"]

CONTRACT_JOB = """\
[sheet]
size = "A6"
orientation = "portrait"
bleed = "3 mm"
safe = "4 mm"
background = "sand"

[colours]
sand = "#ecd9bf"
kelp = { cmyk = [70, 20, 80, 30] }
ink  = { cmyk = [0, 0, 0, 100] }

[cut]
distance = "2.5 mm"
form = "outline"                # outline, circle, ellipse, rectangle
separation = "Cutting"
smallest_radius = "1 mm"
gap = "2 mm"

[print]
profile = "press.icc"

[[sticker]]
name = "crab"
sketch = "crab.jpg"
width = "38 mm"
smoothing = "0.15 mm"
nodes = 220
mirror = "off"
lines = "drawn"
at = ["30 mm", "40 mm"]
rotate = 0

  [sticker.cut]
  form = "ellipse"

  [[sticker.area]]
  at = [0.42, 0.31]
  name = "shell"
  fill = "kelp"
  smoothing = "0.3 mm"

  [[sticker.zone]]
  box = [0.30, 0.10, 0.60, 0.40]
  smoothing = "0.05 mm"

[[lettering]]
text = "Tide Pool"
size = "16 pt"
at = ["52.5 mm", "14 mm"]
fill = "ink"
"""


RING_JOB = """
[sheet]
size = "A6"

[[sticker]]
name = "ring"
sketch = "ring.png"
width = "30 mm"
at = ["50 mm", "60 mm"]
"""
"""A sheet of one sticker that is traced in a moment; its sketch is that of `helpers_sketches.write_ring`."""


def write_job(folder: Path, text: str = CONTRACT_JOB) -> Path:
    """Write a job and the files that the contract's job names."""
    for name in ("crab.jpg", "press.icc"):
        (folder / name).touch()
    path = folder / "tide-pool.toml"
    path.write_text(text, encoding="utf-8")
    return path


def written_out(value: object) -> object:
    """Everything in a value, arrays as bytes, so that values compare bit by bit."""
    if isinstance(value, np.ndarray):
        return value.dtype.str, value.shape, value.tobytes()
    if dataclasses.is_dataclass(value):
        return [written_out(getattr(value, field.name)) for field in dataclasses.fields(value)]
    if isinstance(value, tuple):
        return [written_out(item) for item in value]
    return value

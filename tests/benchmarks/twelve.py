"""A sheet of twelve stickers from photographs of 12 megapixels: first run, and second run after a change.

::

    python tests/benchmarks/twelve.py                # A5, a few minutes
    python tests/benchmarks/twelve.py --keep FOLDER  # keep the photographs for the next time

Beside the sheet stands the sum of what its sketches take one by one, each as a whole process `limner trace`
with the sticker's own settings. Aims of the project: the first run takes at most 1.2 times that sum over
the cores that this process may use, plus 3 s; the second run, after one sticker's smoothing was changed, at
most a quarter of the first.
"""

import argparse
import os
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path
from subprocess import check_call
from tempfile import TemporaryDirectory

from compare import HERE, Run, run

MEGAPIXELS = 12
ASPECT = 4 / 3

# Aims of the project.
MOST_TIMES_ITS_SHARE = 1.2
MOST_SECONDS_MORE = 3.0
MOST_OF_THE_FIRST_RUN = 0.25

# The recipes of one figure each, two of them flipped as well, and the width of the sticker.
WIDTHS_MM = {
    "crab": 36,
    "sea-star": 32,
    "seahorse": 26,
    "anemone": 34,
    "octopus": 36,
    "diver": 36,
    "half-diver": 36,
    "scallop": 30,
    "whelk": 22,
    "cockle": 28,
    "crab-flipped": 30,
    "octopus-flipped": 30,
}
SMOOTHING_MM = 0.1
CHANGED_MM = 0.15

_SHEET = """[sheet]
size = "A5"
turn = 15

[cut]
distance = "2 mm"

[[lettering]]
text = "Tide Pool"
size = "24 pt"
at = [74, 16]
"""

_STICKER = """
[[sticker]]
name = "{name}"
sketch = "{name}.jpg"
width = {width}
smoothing = "{smoothing} mm"
mirror = "{mirror}"
"""

# What the sheet asks of each sketch, by itself.
_SINGLE = """
import sys
import limner
sketch, width, smoothing, mirror = sys.argv[1:]
limner.trace(
    sketch, limner.TraceSettings(drawing_width_mm=float(width), smoothing_mm=float(smoothing), mirror=mirror)
)
"""


def mirror_of(name: str) -> str:
    return "auto" if name == "half-diver" else "off"


def draw(path: Path) -> None:
    """Draw the photograph that the name asks for."""
    import cv2
    import numpy as np

    from sketchmaker.recipes import make

    name = path.stem.removesuffix("-flipped")
    rgb = make(name, size=round(np.sqrt(MEGAPIXELS * 1e6 * ASPECT))).photo.rgb
    if name != path.stem:
        rgb = rgb[:, ::-1]
    cv2.imwrite(str(path), rgb[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 92])


def write_job(folder: Path, changed: Sequence[str] = ()) -> Path:
    stickers = (
        _STICKER.format(
            name=name,
            width=width,
            smoothing=CHANGED_MM if name in changed else SMOOTHING_MM,
            mirror=mirror_of(name),
        )
        for name, width in WIDTHS_MM.items()
    )
    path = folder / "twelve.toml"
    path.write_text(_SHEET + "".join(stickers), encoding="utf-8")
    return path


def limner(*words: str) -> Run:
    return run([sys.executable, "-m", "limner", *words])


def single(folder: Path, name: str) -> Run:
    words = (folder / f"{name}.jpg", WIDTHS_MM[name], SMOOTHING_MM, mirror_of(name))
    return run([sys.executable, "-c", _SINGLE, *map(str, words)])


def measure(folder: Path) -> bool:
    """Print the table; whether both aims are met."""
    cores = len(os.sched_getaffinity(0))
    singles = {name: single(folder, name) for name in WIDTHS_MM}
    for name, one in singles.items():
        print(f"{name:>16} {one.wall_s:8.2f} {one.cpu_s:8.2f} {one.peak_mb:8.0f}", flush=True)
    job = write_job(folder)
    first = limner("sheet", str(job))
    write_job(folder, changed=["crab"])
    second = limner("sheet", str(job))
    for what, one in (("first run", first), ("second run", second)):
        print(f"{what:>16} {one.wall_s:8.2f} {one.cpu_s:8.2f} {one.peak_mb:8.0f}", flush=True)
    total = sum(one.wall_s for one in singles.values())
    bound = MOST_TIMES_ITS_SHARE * total / cores + MOST_SECONDS_MORE
    share = second.wall_s / first.wall_s
    print(f"one by one {total:.1f} s on {cores} cores: first run {first.wall_s:.1f} s, at most {bound:.1f} s")
    print(f"second run {share:.0%} of the first, at most {MOST_OF_THE_FIRST_RUN:.0%}")
    return first.wall_s <= bound and share <= MOST_OF_THE_FIRST_RUN


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--keep", type=Path, help="folder to keep the photographs in")
    parser.add_argument("--draw", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.draw:
        draw(asked.draw)
        return
    with TemporaryDirectory() as passing:
        kept = asked.keep or Path(passing) / "photographs"
        kept.mkdir(parents=True, exist_ok=True)
        folder = Path(passing) / "job"
        folder.mkdir()
        for name in WIDTHS_MM:
            path = kept / f"{name}.jpg"
            if not path.exists():
                # By a process of its own, so that its memory is not counted as the next one's peak.
                check_call([sys.executable, __file__, "--draw", str(path)])
            shutil.copy(path, folder)
        print(f"{'':>16} {'wall s':>8} {'cpu s':>8} {'peak MB':>8}")
        sys.exit(0 if measure(folder) else 1)


if __name__ == "__main__":
    sys.path.insert(0, str(HERE.parents[1] / "fixtures"))
    main()

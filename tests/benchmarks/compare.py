"""Whole processes side by side: `limner trace` and the shortest chain of general-purpose library calls.

::

    python tests/benchmarks/compare.py                      # everything, a quarter of an hour
    python tests/benchmarks/compare.py --megapixels 1 3 --areas 10
    python tests/benchmarks/compare.py --plot growth.png    # and a plot of the growth

Pictures are generated photographs: the crab on paper, at several sizes (above 12 megapixels enlarged, as the
lines grow with the picture on a better camera), and sheets of 10, 100 and 1000 closed blobs at 12 megapixels.
Each figure is the least of some runs, one after the other; wall is seconds from start to end of the process,
cpu its seconds on all cores, peak its largest memory (from `wait4`). "decode" is a process that does nothing
but decode the picture: the floor.
"""

import argparse
import os
import re
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from subprocess import check_call
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from numpy import ndarray as Picture  # noqa: N812

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parents[1] / "fixtures"))

SIZES_MP = (1, 3, 12, 48, 100)
AREAS = (10, 100, 1000)
ASPECT = 4 / 3
LARGEST_DRAWN_MP = 12

# Aims of the project, at 12 megapixels.
MOST_TIMES_THE_CHAIN = 5.0
MOST_MB = 900.0

_DECODE = "import sys; from PIL import Image; Image.open(sys.argv[1]).load()"
# Both write one of these for each node.
_NODE = re.compile("[CL]")


@dataclass(frozen=True, slots=True)
class Run:
    """One process: seconds, megabytes, and nodes of what it wrote."""

    wall_s: float
    cpu_s: float
    peak_mb: float
    nodes: int = 0


def run(command: Sequence[str]) -> Run:
    """Run to the end; anything but success stops the comparison."""
    started = time.perf_counter()
    with Path(os.devnull).open("wb") as nowhere:
        actions = [(os.POSIX_SPAWN_DUP2, nowhere.fileno(), 1), (os.POSIX_SPAWN_DUP2, nowhere.fileno(), 2)]
        process = os.posix_spawn(command[0], command, os.environ, file_actions=actions)
    _, status, usage = os.wait4(process, 0)
    wall = time.perf_counter() - started
    if status != 0:
        raise SystemExit(f"failed with status {status}: {' '.join(command)}")
    # Linux counts kilobytes.
    return Run(wall, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024)


def least(command: Sequence[str], repeat: int, svg: Path | None = None) -> Run:
    """The least of several runs, figure by figure."""
    runs = [run(command) for _ in range(repeat)]
    nodes = len(_NODE.findall("".join(re.findall(r' d="([^"]*)"', svg.read_text())))) if svg else 0
    return Run(
        min(one.wall_s for one in runs),
        min(one.cpu_s for one in runs),
        max(one.peak_mb for one in runs),
        nodes,
    )


def photographed_crab(megapixels: float) -> "Picture":
    """The crab at about that many megapixels, shape (H, W, 3)."""
    import cv2
    import numpy as np

    from sketchmaker.recipes import make

    side = round(np.sqrt(megapixels * 1e6 * ASPECT))
    drawn = round(np.sqrt(min(megapixels, LARGEST_DRAWN_MP) * 1e6 * ASPECT))
    rgb = make("crab", size=drawn).photo.rgb
    scale = side / drawn
    return rgb if scale == 1 else cv2.resize(rgb, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC)


def sheet_of_blobs(count: int, megapixels: float = 12) -> "Picture":
    """Closed blobs in rows, each with a shape of its own, drawn on paper, shape (H, W, 3)."""
    import cv2
    import numpy as np

    from sketchmaker import degrade_raster

    width = round(np.sqrt(megapixels * 1e6 * ASPECT))
    height = round(width / ASPECT)
    columns = int(np.ceil(np.sqrt(count * ASPECT)))
    rows = int(np.ceil(count / columns))
    rng = np.random.default_rng(count)
    ink = np.zeros((height, width), np.uint8)
    angle = np.linspace(0, 2 * np.pi, 120, endpoint=False)
    cell = np.array([width / columns, height / rows])
    for number in range(count):
        row, column = divmod(number, columns)
        ripple = sum(
            rng.uniform(-0.12, 0.12) / k * np.cos(k * angle + rng.uniform(0, 2 * np.pi)) for k in (2, 3, 4)
        )
        radius = 0.36 * cell.min() * (1 + ripple)
        points = (np.array([column, row]) + 0.5) * cell + radius[:, None] * np.stack(
            [np.cos(angle), np.sin(angle)], axis=1
        )
        cv2.polylines(ink, [np.round(points * 16).astype(np.int32)], True, 255, 8, cv2.LINE_AA, 4)
    return degrade_raster(ink.astype(np.float32) / 255, seed=count)


def draw(path: Path) -> None:
    """Draw the picture that the name asks for, as JPEG of the quality that phones choose."""
    import cv2

    what, amount = path.stem.split("-")
    rgb = photographed_crab(float(amount)) if what == "crab" else sheet_of_blobs(int(amount))
    cv2.imwrite(str(path), rgb[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 92])


def picture(path: Path) -> Path:
    """The picture, drawn if need be.

    By a process of its own: what is started by a large process counts that one's memory as its own peak.
    """
    if not path.exists():
        check_call([sys.executable, __file__, "--draw", str(path)])
    return path


def compare(name: str, path: Path, repeat: int) -> tuple[Run, Run, Run]:
    """Decode, chain and limner on one picture; prints three lines of the table."""
    ours, theirs = path.with_suffix(".ours.svg"), path.with_suffix(".theirs.svg")
    decode = least([sys.executable, "-c", _DECODE, str(path)], repeat)
    chain = least([sys.executable, str(HERE / "chain.py"), str(path), str(theirs)], repeat, theirs)
    limner = least([sys.executable, "-m", "limner", "trace", str(path), "-o", str(ours)], repeat, ours)
    for what, one in (("decode", decode), ("chain", chain), ("limner", limner)):
        ratio = f"{one.wall_s / chain.wall_s:6.2f}" if what == "limner" else ""
        print(
            f"{name:>12} {what:>7} {one.wall_s:8.2f} {one.cpu_s:8.2f} {one.peak_mb:8.0f} "
            f"{one.nodes or '':>8} {ratio:>6}",
            flush=True,
        )
    return decode, chain, limner


def start_up(repeat: int = 15) -> None:
    """`limner --help` beside an interpreter that does nothing."""
    nothing = least([sys.executable, "-c", "pass"], repeat)
    answer = least([sys.executable, "-m", "limner", "--help"], repeat)
    print(
        f"limner --help: {1e3 * answer.wall_s:.0f} ms, python -c pass: {1e3 * nothing.wall_s:.0f} ms, "
        f"ratio {answer.wall_s / nothing.wall_s:.2f}"
    )


def plot(path: Path, sizes: dict[float, tuple[Run, Run, Run]]) -> None:
    """Wall time and memory against size."""
    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(1, 2, figsize=(9, 4), layout="constrained")
    for axis, what, unit in zip(axes, ("wall_s", "peak_mb"), ("seconds", "MB"), strict=True):
        for number, label in enumerate(("decode", "chain", "limner")):
            axis.plot(
                list(sizes), [getattr(runs[number], what) for runs in sizes.values()], "o-", label=label
            )
        axis.set(xlabel="megapixels", ylabel=unit, xscale="log", yscale="log")
    axes[0].legend()
    figure.savefig(path, dpi=120)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--megapixels", type=float, nargs="*", default=list(SIZES_MP))
    parser.add_argument("--areas", type=int, nargs="*", default=list(AREAS))
    parser.add_argument("--repeat", type=int, default=3)
    parser.add_argument("--keep", type=Path, help="folder to keep the generated pictures in")
    parser.add_argument("--plot", type=Path, help="PNG with the growth over megapixels")
    parser.add_argument("--draw", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.draw:
        draw(asked.draw)
        return
    start_up()
    print(
        f"{'picture':>12} {'process':>7} {'wall s':>8} {'cpu s':>8} {'peak MB':>8} {'nodes':>8} {'ratio':>6}"
    )
    with TemporaryDirectory() as passing:
        folder = asked.keep or Path(passing)
        folder.mkdir(parents=True, exist_ok=True)
        sizes = {}
        for megapixels in asked.megapixels:
            path = picture(folder / f"crab-{megapixels:g}.jpg")
            sizes[megapixels] = compare(f"{megapixels:g} MP", path, asked.repeat)
        for count in asked.areas:
            compare(f"{count} areas", picture(folder / f"blobs-{count}.jpg"), asked.repeat)
    if asked.plot and sizes:
        plot(asked.plot, sizes)


if __name__ == "__main__":
    main()

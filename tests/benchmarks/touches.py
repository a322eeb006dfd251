"""How long a touch takes in a warm process, beside a whole trace of the same sketch.

The crab at 12 megapixels is traced once and kept in memory (`limner.pipeline.sketch.warm`); then, again and
again, one touch or one area table is added to it, elsewhere each time, and taken back. The whole trace is
taken in the same process in between, as a warm disk and loaded libraries leave it. Wall time; the aims are
those of two idle cores.

    python tests/benchmarks/touches.py [--megapixels 12] [--times 9] [--keep FOLDER]
"""

import argparse
import statistics
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from compare import picture

AIMS_MS = {"draw": 250, "rub": 250, "pull": 250, "corner": 60, "smooth": 60, "name": 60, "colour": 60}


def changes(step: float) -> dict[str, dict[str, Any]]:
    """One change of the settings of each kind, a little elsewhere for each step."""
    from limner.job import AreaTable, TouchTable

    def touch(**keys: Any) -> dict[str, Any]:
        return {"touches": (TouchTable.model_validate(keys),)}

    def area(**keys: Any) -> dict[str, Any]:
        return {"areas": (AreaTable.model_validate({"at": [0.5, 0.6], **keys}),)}

    return {
        "draw": touch(draw=[[0.12, 0.36 + step], [0.18, 0.34 + step], [0.25, 0.36 + step]]),
        "rub": touch(rub=[[0.46, 0.58 + step], [0.51, 0.61 + step], [0.56, 0.58 + step]]),
        "pull": touch(pull=[[0.50, 0.69], [0.50, 0.72 + step]], reach=25),
        "corner": touch(corner=[0.50 + 2.0 * step, 0.69]),
        "smooth": touch(smooth=[0.30 - step, 0.25 + step]),
        "name": area(name=f"shell-{round(1e4 * step)}"),
        "colour": area(fill=f"#e8a8{round(1e4 * step):02x}"),
    }


def timed(work: Callable[[], object]) -> float:
    """Milliseconds."""
    start = time.perf_counter()
    work()
    return 1e3 * (time.perf_counter() - start)


def measured(path: Path, times: int) -> tuple[dict[str, list[float]], list[float], int]:
    """Milliseconds of each kind of change and of whole traces, and what is kept in memory, in bytes."""
    from limner.pipeline import TraceSettings, trace
    from limner.pipeline.sketch.warm import WarmSketch

    plain = TraceSettings(width_mm=148.0)
    sketch = WarmSketch(path)
    found: dict[str, list[float]] = {}
    whole = []
    for number in range(times):
        for kind, change in changes(0.0015 * number).items():
            sketch.trace(plain)
            changed = replace(plain, **change)
            found.setdefault(kind, []).append(timed(lambda changed=changed: sketch.trace(changed)))
        whole.append(timed(lambda: trace(path, plain)))
    return found, whole, held_bytes(sketch)


def held_bytes(sketch: object) -> int:
    """Bytes of all arrays that can be reached from an object."""
    import gc

    import numpy as np

    seen: set[int] = set()
    todo, total = [sketch], 0
    while todo:
        one = todo.pop()
        if id(one) in seen or isinstance(one, type):
            continue
        seen.add(id(one))
        if isinstance(one, np.ndarray):
            total += one.nbytes if one.base is None else 0
            todo += [] if one.base is None else [one.base]
        elif type(one).__module__.split(".")[0] in ("limner", "builtins", "collections", "functools"):
            todo += gc.get_referents(one) if not callable(one) or hasattr(one, "args") else []
    return total


def main() -> None:
    """Measure, and print one row for each kind of change."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--megapixels", type=float, default=12)
    parser.add_argument("--times", type=int, default=9)
    parser.add_argument("--keep", type=Path, default=None)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = picture((asked.keep or Path(folder)) / f"crab-{asked.megapixels:g}.jpg")
        found, whole, held = measured(path, asked.times)
    usual = statistics.median(whole)
    print(f"whole trace: median {usual:.0f} ms, worst {max(whole):.0f}; kept in memory: {held / 1e6:.0f} MB")
    for kind, spent in found.items():
        median = statistics.median(spent)
        said = f"{kind:7} median {median:5.0f} ms, worst {max(spent):5.0f} (aim {AIMS_MS[kind]})"
        print(f"{said}; {median / usual:.1%} of a whole trace")


if __name__ == "__main__":
    main()

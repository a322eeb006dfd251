"""The desk in a browser: from letting go to the changed picture, on the crab at 12 megapixels.

::

    python tests/benchmarks/desk.py             # each decision twenty times
    python tests/benchmarks/desk.py --times 5

The page measures itself (`marks.js`): a measure begins as a decision is made and ends in the frame after
the picture has changed. No value is decided twice, so that nothing is shown from what was kept of it. Beside
the figures stands a fixed piece of work done in the same run, before each row: what the machine was worth.
"""

import argparse
import itertools
import os
import re
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from compare import HERE

sys.path.insert(0, str(HERE.parent))

from playwright.sync_api import Browser, Locator, Page, expect

from helpers_page import CRAB_JOB, area, into, open_browser, running_desk, saved

LONGER_SIDE_PX = 4032

# What is not shown by then is left out of the figures, and n tells.
PATIENCE_S = 20

# Aims of the project, in milliseconds.
MOST_MS = {
    "colour": 100,
    "name": 100,
    "order": 100,
    "join": 100,
    "smoothing": 350,
    "nodes": 350,
    "lines": 350,
    "draw": 600,
    "rub": 600,
    "photograph": 300,
    "shapes": 2000,
    "usable": 1500,
}


@dataclass(frozen=True)
class Row:
    """How long one kind of decision took, and what the machine was worth meanwhile."""

    kind: str
    took_ms: list[float]
    work_ms: float

    def __str__(self) -> str:
        median, most = statistics.median(self.took_ms), MOST_MS[self.kind]
        told = "" if median <= most else "  TOO LONG"
        return (
            f"{self.kind:12} median {median:6.0f} ms   worst {max(self.took_ms):6.0f} ms   aim {most:5} ms   "
            f"n {len(self.took_ms):3}   work {self.work_ms:4.0f} ms{told}"
        )


def work_ms() -> float:
    """A fixed piece of work."""
    begun = time.perf_counter()
    total = 0
    for number in range(2_000_000):
        total += number * number
    return 1000 * (time.perf_counter() - begun)


class Bench:
    """One sketch on a page, and decisions made on it."""

    def __init__(self, page: Page, times: int) -> None:
        self.page, self.times, self.name = page, times, "shell"
        self.lengths = (f"{0.1 + 0.007 * step:.3f} mm" for step in itertools.count())
        self.counts = itertools.count(25)

    def slip(self, name: str | None = None) -> Locator:
        """The slip of an area, opened again where it is not there."""
        name = name or self.name
        slip = self.page.get_by_role("dialog", name=name, exact=True)
        if not slip.is_visible():
            area(self.page, name).focus()
            self.page.keyboard.press("Enter")
        return slip

    def type(self, label: str, value: str) -> None:
        """Type a value into a field of the slip."""
        field = self.slip().get_by_label(label)
        field.fill(value)
        field.press("Enter")

    def rows(self) -> Iterator[Row]:
        """All decisions, the quick ones first."""
        colours = itertools.cycle(["kelp", "sand", "coral"])
        yield self.row("colour", lambda: self.slip().get_by_role("radio", name=next(colours)).check())
        yield self.row("name", self.rename)
        sides = itertools.cycle(["Lies below", "Lies above"])
        yield self.row("order", lambda: self.pick(next(sides)))
        yield self.row("join", lambda: self.pick("Join with"), then=self.take_back)
        yield self.row("smoothing", lambda: self.type("Smoothing", next(self.lengths)))
        yield self.row("nodes", lambda: self.type("Nodes", str(next(self.counts))))
        self.box = area(self.page, self.name).bounding_box() or {}
        self.page.keyboard.press("Escape")
        for kind, key in (("draw", "3"), ("rub", "4")):
            self.page.keyboard.press(key)
            heights = itertools.count()
            yield self.row(kind, lambda heights=heights: self.stroke(next(heights)))
            self.page.keyboard.press("1")

    def row(self, kind: str, act: Callable[[], None], then: Callable[[], None] | None = None) -> Row:
        """Decide so many times, each when the one before is all done."""
        worth = work_ms()
        self.page.evaluate("performance.clearMeasures()")
        for number in range(1, self.times + 1):
            act()
            count = f"performance.getEntriesByName('{kind}').length"
            given_up = time.monotonic() + PATIENCE_S
            while self.page.evaluate(count) < number and time.monotonic() < given_up:
                self.page.wait_for_timeout(20)
            saved(self.page)
            if then:
                then()
        took = f"performance.getEntriesByName('{kind}').map(one => one.duration)"
        return Row(kind, self.page.evaluate(took), worth)

    def rename(self) -> None:
        """Another name each time."""
        name, self.name = self.name, f"shell-{next(self.counts)}"
        field = self.slip(name).get_by_label("Name")
        field.fill(self.name)
        field.press("Enter")

    def pick(self, words: str) -> None:
        """Touch a word of the slip, and then the belly."""
        self.slip().get_by_role("button", name=words).click()
        area(self.page, "belly").focus()
        self.page.keyboard.press("Enter")

    def take_back(self) -> None:
        """Undo, and wait for the belly."""
        self.page.get_by_role("button", name="Undo").click()
        expect(area(self.page, "belly")).to_be_attached()
        saved(self.page)

    def stroke(self, number: int) -> None:
        """A stroke across the shell, another one each time."""
        box = self.box
        y = box["y"] + box["height"] * (0.25 + 0.5 * number / max(1, self.times))
        self.page.mouse.move(box["x"] + 0.3 * box["width"], y)
        self.page.mouse.down()
        self.page.mouse.move(box["x"] + 0.6 * box["width"], y + 6, steps=8)
        self.page.mouse.up()


def arrival(browser: Browser, picture: Path, folder: Path) -> Iterator[Row]:
    """A photograph is brought to an empty desk."""
    worth = work_ms()
    with running_desk(folder) as address:
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        page.goto(address)
        expect(page.get_by_role("heading", name="Drop sketches here")).to_be_visible()
        yield Row("usable", measured(page, "usable"), worth)
        page.locator("input[type=file]").set_input_files(picture)
        expect(page.locator("[data-area]").first).to_be_attached()
        for kind in ("photograph", "shapes"):
            yield Row(kind, measured(page, kind), worth)


def measured(page: Page, kind: str) -> list[float]:
    """What the page measured of a kind, once it did."""
    found: list[float] = []
    while not found:
        page.wait_for_timeout(50)
        found = page.evaluate(f"performance.getEntriesByName('{kind}').map(one => one.duration)")
    return found


def begun_by(process: int) -> list[int]:
    """The processes that a process began, whichever of its threads did."""
    tasks = Path(f"/proc/{process}/task").glob("*/children")
    return [int(child) for task in tasks for child in task.read_text().split()]


def memory_mb(process: int) -> float:
    """What a process and those that it began hold, shared pages by their share."""
    told = Path(f"/proc/{process}/smaps_rollup").read_text()
    own = re.search(r"^Pss:\s+(\d+)", told, re.MULTILINE)
    return (int(own[1]) / 1024 if own else 0.0) + sum(map(memory_mb, begun_by(process)))


def desk_memory_mb() -> float:
    """What the desk that was begun here holds."""
    words = {child: Path(f"/proc/{child}/cmdline").read_bytes() for child in begun_by(os.getpid())}
    return sum(memory_mb(child) for child, said in words.items() if b"\0desk\0" in said)


def main() -> None:
    """Measure, and say what took too long."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--times", type=int, default=20, help="how often each decision is made")
    times = parser.parse_args().times
    with TemporaryDirectory() as kept, open_browser() as browser:
        folder = Path(kept)
        photographs = folder / "photographs"
        command = [sys.executable, "-m", "sketchmaker", "crab", "--size", str(LONGER_SIDE_PX)]
        subprocess.check_call([*command, "-o", str(photographs)], cwd=HERE.parents[1] / "fixtures")
        picture = photographs / "crab.jpg"
        job = folder / "job" / "pool.toml"
        for place in (job.parent, folder / "empty"):
            place.mkdir()
        job.write_text(CRAB_JOB, encoding="utf-8")
        os.link(picture, job.parent / "crab.jpg")
        for row in arrival(browser, picture, folder / "empty"):
            print(row, flush=True)
        with running_desk(job) as address:
            page = browser.new_page(viewport={"width": 1280, "height": 800})
            page.goto(address)
            into(page)
            for row in Bench(page, times).rows():
                print(row, flush=True)
            print(f"the desk and its processes hold {desk_memory_mb():.0f} MB")


if __name__ == "__main__":
    main()

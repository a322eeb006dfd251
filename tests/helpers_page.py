"""A desk as a person meets it: served by its own command, seen in a real browser."""

import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryFile

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Locator, Page, expect, sync_playwright

__all__ = ["BORING", "CRAB_JOB", "area", "crab_job", "into", "open_browser", "running_desk", "saved", "visit"]

BORING = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-dev-shm-usage"]
"""A browser that does nothing of its own."""

CRAB_JOB = """\
# The crab, and little else.
[sheet]
size = "A6"

[colours]
coral = { cmyk = [0, 52, 50, 3] }   # warm
sand  = "#ecd9bf"
kelp  = "#7fb069"

[[sticker]]
name = "crab"
sketch = "crab.jpg"
width = "60 mm"
smoothing = "0.2 mm"

  [[sticker.area]]
  name = "shell"
  at = [0.512, 0.592]
  fill = "coral"

  [[sticker.area]]
  name = "belly"
  at = [0.381, 0.659]
  fill = "sand"
"""

_FIXTURES = Path(__file__).resolve().parents[1] / "fixtures"

# A machine that is busy with other tests takes its time.
_PATIENCE_MS = 20_000
expect.set_options(timeout=_PATIENCE_MS)

# Nothing moves by itself while it is measured.
_CALM = {"viewport": {"width": 1280, "height": 800}, "reduced_motion": "reduce"}

# The browser itself writes down every answer that refuses, and every desk that is gone.
_REFUSALS = re.compile(
    "status of 4(03|09|15|22)|ERR_CONNECTION_REFUSED|ERR_INCOMPLETE_CHUNKED|ERR_CONNECTION_RESET"
)


def crab_job(folder: Path) -> Path:
    """A job of one sketch."""
    shutil.copy(_FIXTURES / "crab.jpg", folder)
    job = folder / "pool.toml"
    job.write_text(CRAB_JOB, encoding="utf-8")
    return job


@contextmanager
def running_desk(*words: Path | str, is_killed: bool = False) -> Iterator[str]:
    """The desk's first address while its command runs; it is ended by Ctrl-C, or killed without a word."""
    command = [sys.executable, "-m", "limner", "desk", *map(str, words), "--no-browser"]
    environment = {**os.environ, "PYTHONUNBUFFERED": "1"}
    with (
        TemporaryFile("w+") as complaints,
        subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=complaints, text=True, env=environment
        ) as desk,
    ):
        assert desk.stdout is not None
        try:
            address = re.search(r"http://\S+", desk.stdout.readline())
            assert address, "the desk names no address"
            yield address[0]
        finally:
            desk.send_signal(signal.SIGKILL if is_killed else signal.SIGINT)
            desk.wait(20)
            complaints.seek(0)
            said = complaints.read()
        assert "Traceback" not in said, said


@contextmanager
def open_browser() -> Iterator[Browser]:
    """Debian's Chromium, driven from outside."""
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    if program is None:
        pytest.skip("chromium is not installed")
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=program, args=BORING)
        try:
            yield browser
        finally:
            browser.close()


@contextmanager
def visit(browser: Browser, address: str, **options: object) -> Iterator[Page]:
    """A page of the desk; whatever it says on the console is a fault, but for answers that refuse."""
    context = browser.new_context(**{**_CALM, **options})
    context.set_default_timeout(_PATIENCE_MS)
    page = context.new_page()
    said: list[str] = []
    page.on("console", lambda message: said.append(_say(message)))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto(address)
    expect(page.get_by_role("status")).not_to_be_empty()
    try:
        yield page
    finally:
        context.close()
    assert [words for words in said if not _REFUSALS.search(words)] == []


def _say(message: ConsoleMessage) -> str:
    return f"{message.type}: {message.text} ({message.location.get('url', '')})"


def into(page: Page, name: str = "crab") -> None:
    """Go to a sketch by its address, and wait for its shapes."""
    page.evaluate("name => { location.hash = `sketch/${name}` }", name)
    expect(page.locator("[data-area]").first).to_be_attached(timeout=_PATIENCE_MS)
    saved(page)


def saved(page: Page) -> None:
    """Wait until nothing is left to do."""
    expect(page.get_by_role("status")).to_have_text("Saved")


def area(page: Page, name: str) -> Locator:
    """An area by its name."""
    return page.locator(f'[data-area="{name}"]')

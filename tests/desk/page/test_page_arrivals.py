"""New sketches on a desk that is empty: dropped, chosen, pasted, refused."""

import re
import tomllib
from base64 import b64encode
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from helpers_page import running_desk, saved, visit

FIXTURES = Path(__file__).resolve().parents[3] / "fixtures"

BRING = """([how, name, data]) => {
  const held = new DataTransfer();
  held.items.add(new File([Uint8Array.from(atob(data), (one) => one.charCodeAt(0))], name));
  const surface = document.getElementById("surface");
  const options = { bubbles: true, cancelable: true };
  if (how === "paste") {
    surface.dispatchEvent(new ClipboardEvent("paste", { ...options, clipboardData: held }));
    return;
  }
  surface.dispatchEvent(new DragEvent("dragover", { ...options, dataTransfer: held }));
  surface.dispatchEvent(new DragEvent("drop", { ...options, dataTransfer: held }));
}"""


@pytest.fixture(scope="module")
def folder(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("arrivals")


@pytest.fixture(scope="module")
def page(browser: Browser, folder: Path) -> Iterator[Page]:
    with running_desk(folder) as address, visit(browser, address) as page:
        yield page


def bring(page: Page, how: str, name: str, data: bytes) -> None:
    page.evaluate(BRING, [how, name, b64encode(data).decode("ascii")])


def stickers(folder: Path) -> list[dict]:
    (job,) = folder.glob("*.toml")
    return tomllib.loads(job.read_text()).get("sticker", [])


def test_a_dropped_photograph_is_seen_at_once_and_traced(page: Page, folder: Path) -> None:
    expect(page.get_by_role("heading", name="Drop sketches here")).to_be_visible()
    bring(page, "drop", "crab.jpg", (FIXTURES / "crab.jpg").read_bytes())
    expect(page).to_have_url(re.compile("#sketch/crab$"))
    expect(page.locator("[data-area]").first).to_be_attached(timeout=60_000)
    saved(page)
    measured = page.evaluate("performance.getEntriesByType('measure').map(one => one.name)")
    assert {"photograph", "shapes"} <= set(measured)
    assert [one["sketch"] for one in stickers(folder)] == ["crab.jpg"]
    page.get_by_role("button", name="Back to the sheet").click()


def test_what_is_no_picture_says_why_where_it_lies(page: Page, folder: Path) -> None:
    before = stickers(folder)
    bring(page, "drop", "notes.txt", b"no picture")
    new = page.get_by_role("group", name="New sketches")
    expect(new.get_by_role("alert")).to_contain_text("not a picture")
    new.get_by_role("button", name="Put notes.txt away").click()
    expect(new.get_by_role("figure")).to_have_count(0)
    assert stickers(folder) == before


def test_photographs_are_chosen_and_pasted_and_taken_back(page: Page, folder: Path) -> None:
    before = [one["name"] for one in stickers(folder)]
    with page.expect_file_chooser() as asked:
        page.get_by_role("button", name="Bring a sketch").click()
    asked.value.set_files(FIXTURES / "whelk.jpg")
    expect(page).to_have_url(re.compile("#sketch/whelk$"))
    bring(page, "paste", "image.png", (FIXTURES / "cockle.jpg").read_bytes())
    expect(page).to_have_url(re.compile("#sketch/image$"))
    assert [one["name"] for one in stickers(folder)] == [*before, "whelk", "image"]
    assert (folder / "image.jpg").is_file()
    for _ in range(2):
        page.get_by_role("button", name="Undo").click()
        saved(page)
    assert [one["name"] for one in stickers(folder)] == before

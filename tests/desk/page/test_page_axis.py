"""The axis of a half-drawn figure: dragged, turned, kept sides, one-sided areas, off and on again."""

import shutil
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from helpers_page import into, running_desk, saved, visit

FIXTURES = Path(__file__).resolve().parents[3] / "fixtures"

JOB = """\
[[sticker]]
name = "diver"
sketch = "half-diver.jpg"
width = "40 mm"
mirror = "auto"      # found
"""


@pytest.fixture(scope="module")
def job(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("axis")
    shutil.copy(FIXTURES / "half-diver.jpg", folder)
    job = folder / "pool.toml"
    job.write_text(JOB)
    return job


@pytest.fixture(scope="module")
def page(browser: Browser, job: Path) -> Iterator[Page]:
    with running_desk(job) as address, visit(browser, address) as page:
        into(page, "diver")
        yield page


def mirror(job: Path) -> object:
    return tomllib.loads(job.read_text())["sticker"][0]["mirror"]


def axis(page: Page) -> Locator:
    return page.locator("[data-axis]")


def middle(locator: Locator) -> tuple[float, float]:
    box = locator.bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def drag(page: Page, start: tuple[float, float], dx: float) -> None:
    page.mouse.move(*start)
    page.mouse.down()
    page.mouse.move(start[0] + dx, start[1], steps=6)
    page.mouse.up()
    saved(page)


def test_the_axis_is_moved_and_turned_by_hand(page: Page, job: Path) -> None:
    drag(page, middle(axis(page)), 15)
    moved = mirror(job)
    assert isinstance(moved, dict)
    assert set(moved) == {"at", "angle"}
    assert "# found" in job.read_text()
    drag(page, middle(axis(page).locator(".end").first), 30)
    turned = mirror(job)
    assert isinstance(turned, dict)
    assert turned["angle"] == pytest.approx(moved["angle"] + 5.4, abs=1)
    assert turned["at"] == pytest.approx(moved["at"], abs=0.03)
    for _ in range(2):
        page.get_by_role("button", name="Undo").click()
        saved(page)
    assert mirror(job) == "auto"
    assert job.read_text() == JOB


def test_the_slip_of_the_axis_keeps_a_side_and_areas_as_they_are(page: Page, job: Path) -> None:
    axis(page).focus()
    page.keyboard.press("Enter")
    slip = page.get_by_role("dialog", name="Axis", exact=True)
    keep = slip.get_by_role("radiogroup", name="Keep")
    expect(keep.get_by_role("radio", name="left")).to_be_checked()
    keep.get_by_role("radio", name="right").check()
    saved(page)
    assert mirror(job) == {"keep": "right"}
    keep.get_by_role("radio", name="left").check()
    saved(page)
    assert mirror(job) == {"keep": "left"}
    slip.get_by_role("button", name="Add an area that stays one-sided").click()
    name = page.locator("[data-area]").first.get_attribute("data-area")
    page.locator("[data-area]").first.focus()
    page.keyboard.press("Enter")
    saved(page)
    assert mirror(job) == {"keep": "left", "one_sided": [name]}
    slip.get_by_role("button", name=f"Mirror {name}").click()
    slip.get_by_label("Angle").fill("90")
    slip.get_by_label("Angle").press("Enter")
    saved(page)
    by_hand = mirror(job)
    assert isinstance(by_hand, dict)
    assert (by_hand["angle"], by_hand["keep"]) == (90, "left")
    slip.get_by_role("radiogroup", name="Axis").get_by_role("radio", name="off").click()
    saved(page)
    assert mirror(job) == "off"
    expect(axis(page)).to_have_count(0)
    expect(page.get_by_role("dialog")).to_have_count(0)

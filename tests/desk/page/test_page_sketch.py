"""The sketch on its page: touched, coloured, named, smoothed, undone, by hand and by key."""

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from helpers_page import area, crab_job, into, running_desk, saved, visit


@pytest.fixture(scope="module")
def job(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return crab_job(tmp_path_factory.mktemp("desk"))


@pytest.fixture(scope="module")
def address(job: Path) -> Iterator[str]:
    with running_desk(job) as address:
        yield address


@pytest.fixture
def page(browser: Browser, address: str, job: Path) -> Iterator[Page]:
    with visit(browser, address) as page:
        into(page)
        yield page
        undo = page.get_by_role("button", name="Undo")
        page.keyboard.press("Escape")
        while undo.is_enabled():
            undo.click()
            saved(page)


def crab(job: Path) -> dict:
    return tomllib.loads(job.read_text())["sticker"][0]


def touch(page: Page, name: str) -> Locator:
    """Touch an area by the keyboard's focus, which no other thing can hide; its slip."""
    area(page, name).focus()
    page.keyboard.press("Enter")
    slip = page.get_by_role("dialog", name=name, exact=True)
    expect(slip).to_be_visible()
    return slip


def test_touching_an_area_opens_its_slip_and_escape_puts_it_away(page: Page) -> None:
    box = area(page, "belly").bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] - 12)
    slip = page.get_by_role("dialog", name="belly", exact=True)
    expect(slip).to_be_visible()
    expect(slip.get_by_label("Name")).to_have_value("belly")
    expect(slip.get_by_label("Colour")).to_have_value("sand")
    expect(slip.get_by_label("Smoothing")).to_have_value("0.2 mm")
    assert int(slip.get_by_label("Nodes").input_value()) > 2
    page.keyboard.press("Escape")
    expect(page.get_by_role("dialog")).to_have_count(0)
    expect(area(page, "belly")).to_be_visible()


def test_a_dab_of_colour_fills_at_once_and_undo_takes_it_back(page: Page, job: Path) -> None:
    before = job.read_bytes()
    slip = touch(page, "shell")
    slip.get_by_role("radio", name="kelp").check()
    expect(area(page, "shell")).to_have_attribute("fill", "#7fb069")
    saved(page)
    assert crab(job)["area"][0]["fill"] == "kelp"
    assert "# warm" in job.read_text()
    page.keyboard.press("Escape")
    page.keyboard.press("Control+z")
    expect(page.get_by_role("button", name="Redo")).to_be_enabled()
    saved(page)
    assert job.read_bytes() == before
    page.keyboard.press("Control+Shift+Z")
    expect(area(page, "shell")).to_have_attribute("fill", "#7fb069")


def test_a_new_name_stays_with_the_slip_and_a_bad_one_is_refused_beside_it(page: Page, job: Path) -> None:
    slip = touch(page, "shell")
    slip.get_by_label("Name").fill("carapace")
    slip.get_by_label("Name").press("Enter")
    slip = page.get_by_role("dialog", name="carapace")
    expect(area(page, "carapace")).to_be_visible()
    saved(page)
    assert crab(job)["area"][0]["name"] == "carapace"
    slip.get_by_label("Name").fill("7 seas")
    slip.get_by_label("Name").press("Enter")
    expect(slip.get_by_role("alert")).to_contain_text("name that starts with a letter")
    expect(page.get_by_role("dialog", name="carapace")).to_be_visible()
    assert crab(job)["area"][0]["name"] == "carapace"


def test_an_area_that_the_job_does_not_know_gets_a_table(page: Page, job: Path) -> None:
    name = page.locator("[data-area^=area-]").first.get_attribute("data-area")
    slip = touch(page, name)
    slip.get_by_label("Colour").fill("kelp")
    slip.get_by_label("Colour").press("Enter")
    slip.get_by_label("Name").fill("claw")
    slip.get_by_label("Name").press("Enter")
    expect(area(page, "claw")).to_have_attribute("fill", "#7fb069")
    saved(page)
    assert len(crab(job)["area"]) == 3
    assert crab(job)["area"][2] | {"at": None} == {"name": "claw", "fill": "kelp", "at": None}


def test_smoothing_is_typed_with_a_unit_stepped_and_dragged(page: Page, job: Path) -> None:
    smoothing = touch(page, "shell").get_by_label("Smoothing")
    shape = area(page, "shell").get_attribute("d")
    smoothing.fill("1 pt")
    smoothing.press("Enter")
    expect(area(page, "shell")).not_to_have_attribute("d", shape)
    saved(page)
    assert crab(job)["area"][0]["smoothing"] == "1 pt"
    smoothing.press("Control+z")
    expect(smoothing).to_have_value("0.2 mm")
    saved(page)
    smoothing.fill("0.5 mm")
    smoothing.press("Enter")
    smoothing.press("ArrowUp")
    expect(smoothing).to_have_value("0.51 mm")
    page.keyboard.press("Tab")
    saved(page)
    assert crab(job)["area"][0]["smoothing"] == "0.51 mm"
    box = smoothing.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    shape = area(page, "shell").get_attribute("d")
    written = job.read_bytes()
    page.mouse.move(x - 60, y, steps=4)
    dragged = smoothing.input_value()
    assert float(dragged.split()[0]) < 0.45
    expect(area(page, "shell")).not_to_have_attribute("d", shape)
    assert job.read_bytes() == written, "what is only tried is not saved"
    page.mouse.up()
    saved(page)
    assert crab(job)["area"][0]["smoothing"] == dragged


def test_areas_are_joined_laid_above_another_and_left_empty(page: Page, job: Path) -> None:
    slip = touch(page, "shell")
    slip.get_by_role("button", name="Lies below").click()
    area(page, "belly").focus()
    page.keyboard.press("Enter")
    saved(page)
    assert crab(job)["area"][0]["order"] == -1
    order = page.locator("[data-area]").evaluate_all("all => all.map(a => a.dataset.area)")
    assert order.index("shell") < order.index("belly")
    slip.get_by_role("button", name="Join with").click()
    area(page, "belly").focus()
    page.keyboard.press("Enter")
    expect(area(page, "belly")).to_have_count(0)
    saved(page)
    assert [table["name"] for table in crab(job)["area"]] == ["shell", "shell"]
    slip.get_by_role("button", name="Leave empty").click()
    expect(page.get_by_role("dialog")).to_have_count(0)
    saved(page)
    assert crab(job)["area"][0]["skip"] is True


def test_several_areas_are_taken_by_shift_or_by_going_round_them(page: Page, job: Path) -> None:
    touch(page, "shell")
    area(page, "belly").focus()
    page.keyboard.press("Shift+Enter")
    slip = page.get_by_role("dialog", name="2 areas")
    slip.get_by_role("radio", name="kelp").check()
    saved(page)
    assert [table["fill"] for table in crab(job)["area"]] == ["kelp", "kelp"]
    page.keyboard.press("Escape")
    box = area(page, "shell").bounding_box()
    left, top, right, low = (
        box["x"] - 9,
        box["y"] - 9,
        box["x"] + box["width"] + 9,
        box["y"] + box["height"] + 9,
    )
    page.keyboard.down("Shift")
    page.mouse.move(left, top)
    page.mouse.down()
    for x, y in ((right, top), (right, low), (left, low), (left, top)):
        page.mouse.move(x, y, steps=4)
    page.mouse.up()
    page.keyboard.up("Shift")
    expect(page.get_by_role("dialog")).to_have_accessible_name(re.compile(r"\d+ areas"))


def test_with_a_colour_in_hand_areas_are_filled_one_after_the_other(page: Page, job: Path) -> None:
    page.keyboard.press("2")
    expect(page.get_by_role("radiogroup", name="Hand").get_by_role("radio", name="colour")).to_be_checked()
    page.get_by_role("radiogroup", name="Colour in hand").get_by_role("radio", name="kelp").check()
    for name in ("shell", "belly"):
        box = area(page, name).bounding_box()
        page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] - 14)
        expect(area(page, name)).to_have_attribute("fill", "#7fb069")
    saved(page)
    assert [table["fill"] for table in crab(job)["area"]] == ["kelp", "kelp"]
    page.keyboard.press("Escape")
    expect(page.get_by_role("radio", name="touch")).to_be_checked()


def test_a_new_colour_is_mixed_on_the_slip(page: Page, job: Path) -> None:
    slip = touch(page, "shell")
    slip.get_by_role("button", name="Mix a new one").click()
    slip.get_by_label("Called").fill("tulip")
    slip.get_by_label("CMYK or screen").fill("0 60 10 0")
    slip.get_by_role("button", name="Add it").click()
    expect(slip.get_by_role("radio", name="tulip")).to_be_checked()
    saved(page)
    written = tomllib.loads(job.read_text())
    assert written["colours"]["tulip"] == {"cmyk": [0, 60, 10, 0]}
    assert written["sticker"][0]["area"][0]["fill"] == "tulip"
    page.keyboard.press("Escape")


def test_two_pages_follow_each_other_and_a_change_from_outside(
    page: Page, browser: Browser, address: str, job: Path
) -> None:
    with visit(browser, address) as other:
        into(other)
        touch(page, "shell").get_by_role("radio", name="kelp").check()
        expect(area(other, "shell")).to_have_attribute("fill", "#7fb069")
        page.keyboard.press("Escape")
        page.keyboard.press("Control+z")
        expect(area(other, "shell")).not_to_have_attribute("fill", "#7fb069")
        saved(page)
        text = job.read_text()
        job.write_text(text.replace('fill = "sand"', 'fill = "kelp"'))
        for one in (page, other):
            expect(area(one, "belly")).to_have_attribute("fill", "#7fb069")
        job.write_text(text)
        expect(area(page, "belly")).to_have_attribute("fill", "#ecd9bf")


def test_what_the_trace_refuses_is_said_on_the_slip_and_can_be_mended_there(page: Page) -> None:
    nodes = touch(page, "shell").get_by_label("Nodes")
    nodes.fill("3")
    nodes.press("Enter")
    refusal = page.get_by_role("dialog").get_by_role("alert")
    expect(refusal).to_contain_text("3 nodes are too few")
    expect(page.get_by_role("group", name="Notes")).to_contain_text("3 nodes are too few")
    nodes.fill("30")
    nodes.press("Enter")
    expect(refusal).to_be_hidden()
    saved(page)

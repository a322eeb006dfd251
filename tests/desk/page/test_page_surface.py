"""The surface: how the paper moves, what shines through, who can use it."""

import re
from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from helpers_page import area, crab_job, into, running_desk, saved, visit


@pytest.fixture(scope="module")
def address(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with running_desk(crab_job(tmp_path_factory.mktemp("desk"))) as address:
        yield address


@pytest.fixture
def page(browser: Browser, address: str) -> Iterator[Page]:
    with visit(browser, address) as page:
        into(page)
        yield page


def box_of(page: Page, name: str = "shell") -> tuple[float, float, float]:
    """Left, top and width of an area on the screen."""
    box = area(page, name).bounding_box()
    return box["x"], box["y"], box["width"]


def test_a_wheel_enlarges_about_the_pointer_and_a_touch_pad_moves(page: Page) -> None:
    x, y, width = box_of(page)
    page.mouse.move(x, y)
    page.mouse.wheel(0, -300)
    after = box_of(page)
    assert after[2] > 1.3 * width
    assert after[:2] == pytest.approx((x, y), abs=3)
    page.wait_for_timeout(300)
    page.mouse.wheel(12, 20)
    assert box_of(page) == pytest.approx((after[0] - 12, after[1] - 20, after[2]), abs=3)


def test_keys_and_drags_move_and_enlarge(page: Page) -> None:
    x, y, width = box_of(page)
    page.keyboard.press("+")
    assert box_of(page)[2] == pytest.approx(1.25 * width, rel=0.02)
    page.keyboard.press("0")
    assert box_of(page) == pytest.approx((x, y, width), abs=3)
    page.keyboard.press("ArrowRight")
    assert box_of(page)[0] == pytest.approx(x - 60, abs=3)
    page.keyboard.press("0")
    page.keyboard.down(" ")
    page.mouse.move(x + width / 2, y + 30)
    page.mouse.down()
    page.mouse.move(x + width / 2 + 80, y + 70, steps=3)
    page.mouse.up()
    page.keyboard.up(" ")
    assert box_of(page) == pytest.approx((x + 80, y + 40, width), abs=4)
    expect(page.get_by_role("dialog")).to_have_count(0)


def test_nodes_are_shown_of_what_is_touched_and_of_all_when_near_enough(page: Page) -> None:
    expect(page.locator("[data-node]")).to_have_count(0)
    area(page, "shell").focus()
    page.keyboard.press("Enter")
    count = int(page.get_by_role("dialog").get_by_label("Nodes").input_value())
    expect(page.locator("[data-node]")).to_have_count(count)
    page.keyboard.press("Escape")
    expect(page.locator("[data-node]")).to_have_count(0)
    x, y, _ = box_of(page)
    page.mouse.move(x + 20, y + 60)
    for _ in range(5):
        page.mouse.wheel(0, -400)
    expect(page.locator("[data-node]").first).to_be_attached()


def test_the_photograph_shines_through_and_is_bare_while_a_key_is_held(page: Page) -> None:
    shapes = page.locator(".shapes")
    slider = page.get_by_role("slider", name="Shine-through")
    slider.fill("40")
    expect(shapes).to_have_css("opacity", "0.4")
    page.keyboard.down("p")
    expect(shapes).to_have_css("opacity", "0")
    page.keyboard.up("p")
    expect(shapes).to_have_css("opacity", "0.4")
    expect(page.locator("image.photograph")).to_have_attribute("href", re.compile("/photograph"))


def test_escape_goes_back_to_the_sheet_and_enter_goes_in(page: Page) -> None:
    page.keyboard.press("Escape")
    expect(page.get_by_role("button", name="Write the files")).to_be_visible()
    expect(page.locator("[data-sticker=crab]")).to_be_focused()
    page.keyboard.press("Enter")
    expect(area(page, "shell")).to_be_visible()
    page.get_by_role("button", name="Back to the sheet").click()
    page.locator("[data-sticker=crab]").dblclick()
    expect(area(page, "shell")).to_be_visible()
    assert page.evaluate("performance.getEntriesByName('usable').length") == 1


def test_keys_alone_reach_an_area_walk_on_and_colour_it(page: Page) -> None:
    page.evaluate("document.activeElement.blur()")
    for _ in range(20):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.dataset.area !== undefined"):
            break
    first = page.evaluate("document.activeElement.dataset.area")
    assert first is not None
    page.keyboard.press("ArrowUp")
    second = page.evaluate("document.activeElement.dataset.area")
    assert second != first
    page.keyboard.press("Enter")
    slip = page.get_by_role("dialog", name=second, exact=True)
    expect(slip.get_by_label("Name")).to_be_focused()
    page.keyboard.press("Tab")
    expect(slip.get_by_label("Colour")).to_be_focused()
    page.keyboard.press("Tab")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Escape")
    expect(area(page, second)).to_be_focused()
    saved(page)
    assert page.get_by_role("button", name="Undo").get_attribute("title") == f"Colour of {second}"
    page.keyboard.press("Control+z")
    expect(page.get_by_role("button", name="Undo")).to_be_disabled()
    saved(page)


def test_fingers_touch_pinch_and_move(browser: Browser, address: str) -> None:
    phone = {"viewport": {"width": 900, "height": 700}, "has_touch": True}
    with visit(browser, address, **phone) as page:
        into(page)
        x, y, width = box_of(page)
        page.touchscreen.tap(x + width / 2, y + 24)
        expect(page.get_by_role("dialog", name="shell", exact=True)).to_be_visible()
        page.get_by_role("dialog").get_by_role("button", name="Put away").tap()
        driver = page.context.new_cdp_session(page)

        def fingers(kind: str, *points: tuple[float, float]) -> None:
            touches = [{"x": px, "y": py, "id": i} for i, (px, py) in enumerate(points)]
            driver.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": touches})

        fingers("touchStart", (400, 300))
        fingers("touchStart", (400, 300), (500, 300))
        for step in range(1, 6):
            fingers("touchMove", (400 - 10 * step, 300), (500 + 10 * step, 300))
        fingers("touchEnd")
        assert box_of(page)[2] == pytest.approx(2 * width, rel=0.1)
        expect(page.get_by_role("dialog")).to_have_count(0)


@pytest.mark.parametrize(
    ("width", "scheme"), [(1280, "light"), (1280, "dark"), (900, "light"), (900, "dark")]
)
def test_everybody_can_use_it(browser: Browser, address: str, width: int, scheme: str) -> None:
    look = {"viewport": {"width": width, "height": 700}, "color_scheme": scheme}
    with visit(browser, address, **look) as page:
        check(page)
        into(page)
        check(page)
        area(page, "shell").focus()
        page.keyboard.press("Enter")
        slip = page.get_by_role("dialog").bounding_box()
        assert slip["x"] >= 0
        assert slip["x"] + slip["width"] <= width
        assert slip["y"] + slip["height"] <= 700
        check(page)
        page.keyboard.press("Escape")
        page.keyboard.press("2")
        check(page)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        for word in ("Write the files", "Back to the sheet", "Undo", "Redo"):
            box = page.get_by_role("button", name=word).bounding_box()
            assert box["x"] >= 0
            assert box["x"] + box["width"] <= width


def check(page: Page) -> None:
    """No finding of the levels serious and critical."""
    found = [
        one for one in Axe().run(page).response["violations"] if one["impact"] in ("serious", "critical")
    ]
    assert [(one["id"], one["nodes"][0]["html"]) for one in found] == []

"""Hands on a sketch: lines drawn, rubbed, pulled; parts ringed; what was made is touched and taken back."""

import re
import tomllib
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from helpers_page import area, crab_job, into, running_desk, saved, visit
from limner.touches import smooth_line

LINES = "[...document.querySelectorAll('[data-line]')].map(line => line.getAttribute('d')).join()"

INKED = """([x, y]) => [...document.querySelectorAll("[data-line]")].some((line) =>
  line.isPointInFill(new DOMPoint(x, y).matrixTransform(line.getScreenCTM().inverse())))"""


@pytest.fixture(scope="module")
def job(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return crab_job(tmp_path_factory.mktemp("hands"))


@pytest.fixture(scope="module")
def address(job: Path) -> Iterator[str]:
    with running_desk(job) as address:
        yield address


@pytest.fixture(scope="module")
def opened(browser: Browser, address: str) -> Iterator[Page]:
    with visit(browser, address) as page:
        into(page)
        yield page


@pytest.fixture
def page(opened: Page, job: Path) -> Iterator[Page]:
    before = job.read_bytes()
    yield opened
    while opened.get_by_role("dialog").count():
        opened.keyboard.press("Escape")
    opened.keyboard.press("1")
    while (now := job.read_bytes()) != before:
        opened.get_by_role("button", name="Undo").click()
        expect(opened.get_by_role("status")).not_to_contain_text("Saving")
        assert job.read_bytes() != now
    saved(opened)


def crab(job: Path) -> dict:
    return tomllib.loads(job.read_text())["sticker"][0]


def place(page: Page, fx: float, fy: float) -> tuple[float, float]:
    """A place of the photographed page on the screen."""
    box = page.locator("#surface image").bounding_box()
    assert box is not None
    return box["x"] + fx * box["width"], box["y"] + fy * box["height"]


def stroke(page: Page, *fractions: tuple[float, float]) -> None:
    over(page, *(place(page, *point) for point in fractions))


def over(page: Page, *points: tuple[float, float]) -> None:
    page.mouse.move(*points[0])
    page.mouse.down()
    for (x0, y0), (x1, y1) in pairwise(points):
        for step in range(1, 9):
            page.mouse.move(x0 + (x1 - x0) * step / 8, y0 + (y1 - y0) * step / 8)
    page.mouse.up()


def lines(page: Page) -> str:
    return page.evaluate(LINES)


def redrawn(page: Page, before: str) -> None:
    """Wait until the lines are others."""
    page.wait_for_function(f"before => ({LINES}) !== before", arg=before)


def slip(page: Page, name: str) -> Locator:
    found = page.get_by_role("dialog", name=name, exact=True)
    expect(found).to_be_visible()
    return found


def hand(page: Page, word: str) -> None:
    page.get_by_role("radiogroup", name="Hand").get_by_role("radio", name=word).check()


def test_a_line_is_drawn_where_the_pointer_went_and_parts_an_area(page: Page, job: Path) -> None:
    before = page.locator("[data-area]").count()
    hand(page, "draw")
    stroke(page, (0.50, 0.50), (0.51, 0.56), (0.50, 0.62), (0.51, 0.68))
    expect(page.locator(".stroke.draw")).to_have_count(1)
    saved(page)
    expect(page.locator("[data-area]")).not_to_have_count(before)
    expect(page.locator(".stroke.draw")).to_have_count(0)
    (touch,) = crab(job)["touch"]
    assert set(touch) == {"draw"}
    assert 3 <= len(touch["draw"]) <= 12
    assert touch["draw"][0] == pytest.approx([0.50, 0.50], abs=0.003)
    assert touch["draw"][-1] == pytest.approx([0.51, 0.68], abs=0.003)

    hand(page, "touch")
    page.get_by_role("button", name="Line drawn, 1").click()
    made = slip(page, "Line drawn")
    made.get_by_label("Width").fill("0.9")
    made.get_by_label("Width").press("Enter")
    saved(page)
    assert crab(job)["touch"][0]["width"] == "0.9 mm"
    made.get_by_role("button", name="Take it back").click()
    saved(page)
    assert "touch" not in crab(job)
    expect(page.locator("[data-area]")).to_have_count(before)


def test_a_line_for_fills_alone_parts_an_area_and_is_not_inked(page: Page, job: Path) -> None:
    areas = page.locator("[data-area]").count()
    hand(page, "draw")
    line = page.get_by_role("radiogroup", name="Line")
    line.get_by_role("radio", name="for fills alone").check()
    stroke(page, (0.50, 0.45), (0.51, 0.56), (0.50, 0.62), (0.51, 0.70))
    expect(page.locator("[data-area]")).not_to_have_count(areas)
    saved(page)
    (touch,) = crab(job)["touch"]
    assert set(touch) == {"part"}
    assert not page.evaluate(INKED, place(page, 0.51, 0.56))
    line.get_by_role("radio", name="inked").check()
    hand(page, "touch")
    page.get_by_role("button", name="Area parted, 1").click()
    expect(slip(page, "Area parted")).to_contain_text(re.compile(r"Parted \d fills"))


def test_rubbing_shows_its_width_and_takes_a_line_away(page: Page, job: Path) -> None:
    before = lines(page)
    hand(page, "rub")
    page.get_by_role("spinbutton", name="Width").fill("2 mm")
    page.get_by_role("spinbutton", name="Width").press("Enter")
    shell = area(page, "shell").bounding_box()
    assert shell is not None
    page.mouse.move(shell["x"] + 40, shell["y"] + 90)
    expect(page.locator(".rubber")).to_be_visible()
    mouth = ((0.36, 0.55), (0.40, 0.65), (0.5, 0.76), (0.60, 0.65), (0.64, 0.55))
    over(page, *((shell["x"] + fx * shell["width"], shell["y"] + fy * shell["height"]) for fx, fy in mouth))
    saved(page)
    (touch,) = crab(job)["touch"]
    assert set(touch) == {"rub", "width"}
    assert touch["width"] == "2 mm"
    expect(page.get_by_role("button", name="Rubbed out, 1")).to_be_attached()
    redrawn(page, before)
    hand(page, "touch")
    expect(page.locator(".rubber")).to_have_count(0)


def test_going_round_a_part_makes_a_zone_with_a_slip(page: Page, job: Path) -> None:
    hand(page, "ring")
    stroke(page, (0.35, 0.30), (0.45, 0.28), (0.50, 0.35), (0.44, 0.42), (0.36, 0.40), (0.352, 0.30))
    zone = slip(page, "Zone 1")
    saved(page)
    (written,) = crab(job)["zone"]
    assert written["smoothing"] == "0.2 mm"
    assert 4 <= len(written["polygon"]) <= 20
    zone.get_by_label("Smoothing").fill("0.05 mm")
    zone.get_by_label("Smoothing").press("Enter")
    saved(page)
    zone.get_by_label("Name").fill("left eye")
    zone.get_by_label("Name").press("Enter")
    slip(page, "left eye")
    saved(page)
    assert crab(job)["zone"] == [{**written, "smoothing": "0.05 mm", "name": "left eye"}]
    page.keyboard.press("Escape")

    page.mouse.click(*place(page, 0.42, 0.36))
    slip(page, "left eye").get_by_role("button", name="Go round it anew").click()
    stroke(page, (0.60, 0.30), (0.70, 0.30), (0.70, 0.40), (0.60, 0.40), (0.602, 0.305))
    saved(page)
    (anew,) = crab(job)["zone"]
    assert anew["smoothing"] == "0.05 mm"
    assert min(x for x, _ in anew["polygon"]) == pytest.approx(0.60, abs=0.005)
    slip(page, "left eye").get_by_role("button", name="Take it away").click()
    saved(page)
    assert "zone" not in crab(job)
    expect(page.locator("[data-zone]")).to_have_count(0)


def test_a_line_taken_hold_of_by_its_edge_is_pulled_over(page: Page, job: Path) -> None:
    before, drawn = area(page, "shell").bounding_box(), lines(page)
    assert before is not None
    x, y = before["x"] + before["width"] / 2, before["y"] - 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y - 12)
    page.mouse.move(x, y - 24)
    assert len(page.locator(".pulled").get_attribute("d") or "") > 100
    page.mouse.up()
    saved(page)
    (touch,) = crab(job)["touch"]
    assert set(touch) == {"pull"}
    redrawn(page, drawn)
    after = area(page, "shell").bounding_box()
    assert after is not None
    assert before["y"] - after["y"] == pytest.approx(24, abs=4)
    page.get_by_role("button", name="Line pulled, 1").click()
    slip(page, "Line pulled").get_by_role("button", name="Take it back").click()
    saved(page)
    assert "touch" not in crab(job)


def test_beside_the_figure_lies_the_slip_of_the_whole_sketch(page: Page, job: Path) -> None:
    page.mouse.click(*place(page, 0.04, 0.75))
    whole = slip(page, "crab")
    whole.get_by_role("radiogroup", name="Lines").get_by_role("radio", name="even").check()
    whole.get_by_role("radiogroup", name="Bridges").get_by_role("radio", name="open").check()
    whole.get_by_label("Ink", exact=True).fill("kelp")
    whole.get_by_label("Ink", exact=True).press("Enter")
    expect(page.locator("[data-line]").first).to_have_attribute("fill", "#7fb069")
    whole.get_by_role("radiogroup", name="Paper").get_by_role("radio", name="none").check()
    for label, value in (("Width", "55 mm"), ("Smoothing", "0.3 mm"), ("Nodes", "200")):
        whole.get_by_label(label, exact=True).fill(value)
        whole.get_by_label(label, exact=True).press("Enter")
    saved(page)
    said = crab(job)
    wanted = {"lines": "even", "bridges": "open", "ink": "kelp", "paper": "none", "width": "55 mm"}
    assert {key: said[key] for key in wanted} == wanted
    assert (said["smoothing"], said["nodes"]) == ("0.3 mm", 200)


def test_a_number_is_followed_while_it_is_dragged_and_decided_once(page: Page, job: Path) -> None:
    page.get_by_role("button", name="crab").first.click()
    field = slip(page, "crab").get_by_label("Smoothing")
    before, drawn = job.read_bytes(), area(page, "shell").get_attribute("d")
    box = field.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 10, box["y"] + 10)
    page.mouse.down()
    page.mouse.move(box["x"] + 130, box["y"] + 10, steps=6)
    expect(area(page, "shell")).not_to_have_attribute("d", drawn or "")
    assert job.read_bytes() == before
    page.mouse.up()
    saved(page)
    assert crab(job)["smoothing"] == "0.4 mm"
    page.keyboard.press("Escape")
    page.get_by_role("button", name="Undo").click()
    saved(page)
    assert job.read_bytes() == before


def test_a_node_becomes_a_corner_and_is_again_as_it_was_found(page: Page, job: Path) -> None:
    area(page, "shell").focus()
    page.keyboard.press("Enter")
    slip(page, "shell")
    before = area(page, "shell").get_attribute("d")
    page.get_by_role("img", name="Node of shell, smooth").first.click()
    turns = slip(page, "Node of shell").get_by_role("radiogroup", name="Turns")
    expect(turns.get_by_role("radio", name="as found")).to_be_checked()
    turns.get_by_role("radio", name="corner").check()
    expect(slip(page, "Node of shell")).to_contain_text("turns sharply")
    saved(page)
    (touch,) = crab(job)["touch"]
    assert set(touch) == {"corner"}
    turns.get_by_role("radio", name="as found").check()
    expect(area(page, "shell")).to_have_attribute("d", before or "")
    saved(page)
    assert "touch" not in crab(job)


def test_a_bridged_gap_is_left_open_or_inked(page: Page, job: Path) -> None:
    gaps = page.locator("[data-bridge]")
    count = gaps.count()
    for words, made, kind in (
        ("Leave it open", "Gap left open, 1", "open"),
        ("Ink it", "Line drawn, 1", "draw"),
    ):
        gaps.first.focus()
        page.keyboard.press("Enter")
        slip(page, "Bridged gap").get_by_role("button", name=words).click()
        expect(gaps).to_have_count(count - 1)
        saved(page)
        (touch,) = crab(job)["touch"]
        assert set(touch) == {kind}
        page.get_by_role("button", name=made).focus()
        page.keyboard.press("Enter")
        page.get_by_role("dialog").get_by_role("button", name="Take it back").click()
        expect(gaps).to_have_count(count)
        saved(page)


def test_a_line_is_drawn_by_keys_alone(page: Page, job: Path) -> None:
    page.keyboard.press("3")
    area(page, "shell").focus()
    page.keyboard.press("Enter")
    expect(page.locator(".cross")).to_be_visible()
    for keys in (["Enter"], ["Shift+ArrowRight"] * 2, ["Enter"], ["ArrowDown"] * 5, ["Enter", "Enter"]):
        for key in keys:
            page.keyboard.press(key)
    saved(page)
    (touch,) = crab(job)["touch"]
    (x0, y0), (x1, y1), (x2, y2) = touch["draw"]
    assert (x1 > x0, y1 == y0) == (True, True)
    assert (x2 == x1, y2 > y1) == (True, True)
    expect(page.locator(".cross")).to_have_count(0)
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    page.keyboard.press("Escape")
    expect(page.locator(".cross, .stroke")).to_have_count(0)
    expect(page.get_by_role("radio", name="draw")).to_be_checked()


def test_a_pen_draws_as_wide_as_it_is_pressed_and_a_finger_draws_too(page: Page, job: Path) -> None:
    hand(page, "draw")
    device = page.context.new_cdp_session(page)
    shell = area(page, "shell").bounding_box()
    assert shell is not None
    x, y = shell["x"] + 60, shell["y"] + shell["height"] / 2
    for kind, dx in (("mousePressed", 0), ("mouseMoved", 20), ("mouseMoved", 40), ("mouseReleased", 40)):
        pen = {"button": "left", "buttons": 1, "pointerType": "pen", "force": 0.9}
        device.send("Input.dispatchMouseEvent", {"type": kind, "x": x + dx, "y": y, **pen})
    for kind, dx in (("touchStart", 0), ("touchMove", 20), ("touchMove", 40), ("touchEnd", None)):
        fingers = [] if dx is None else [{"x": x + dx, "y": y + 30}]
        device.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": fingers})
    saved(page)
    by_pen, by_finger = crab(job)["touch"]
    usual = page.get_by_role("spinbutton", name="Width").input_value().removesuffix(" mm")
    assert float(by_pen["width"].removesuffix(" mm")) == pytest.approx(1.8 * float(usual), abs=0.03)
    assert set(by_finger) == {"draw"}


def test_ink_beside_all_areas_has_the_slip_of_the_lines(page: Page, job: Path) -> None:
    x, y = page.evaluate(
        f"""() => {{
          const inked = {INKED};
          const all = [...Array(200000).keys()];
          const places = all.map((i) => [200 + (i % 400) * 2, 60 + Math.floor(i / 400)]);
          const under = (at) => document.elementFromPoint(...at).closest("[data-area], [data-bridge]");
          return places.find(([x, y]) => !under([x, y]) && inked([x, y]) && inked([x + 1, y + 1]));
        }}"""
    )
    page.mouse.click(x, y)
    lines_slip = slip(page, "Lines")
    lines_slip.get_by_role("radiogroup", name="Lines").get_by_role("radio", name="none").check()
    expect(page.locator("[data-line]")).to_have_count(0)
    saved(page)
    assert crab(job)["lines"] == "none"


def test_a_stroke_is_shown_as_limner_draws_it_and_few_points_keep_its_way(page: Page) -> None:
    way = np.linspace(0.0, 2.0 * np.pi, 300)
    hands = np.stack([20.0 * way, 12.0 * np.sin(1.7 * way) + 2.0 * np.sin(6.0 * way)], axis=1)
    few, shown = page.evaluate(
        """async (stroke) => {
          const { fewPoints, smoothLine } = await import("/page/hands/spline.js");
          const few = fewPoints(stroke, 0.2);
          return [few, smoothLine(few)];
        }""",
        hands.tolist(),
    )
    assert len(few) < 30
    drawn = smooth_line(np.array(few), 0.01)
    assert distances(np.array(shown), drawn).max() < 0.01
    assert distances(hands, drawn).max() < 0.21


def distances(points: np.ndarray, line: np.ndarray) -> np.ndarray:
    return np.hypot(*(points[:, None] - line[None]).transpose(2, 0, 1)).min(axis=1)


def test_escape_leaves_a_stroke_that_is_under_way(page: Page, job: Path) -> None:
    before = job.read_bytes()
    hand(page, "draw")
    page.mouse.move(*place(page, 0.45, 0.55))
    page.mouse.down()
    page.mouse.move(*place(page, 0.55, 0.55), steps=4)
    expect(page.locator(".stroke")).to_have_count(1)
    page.keyboard.press("Escape")
    expect(page.locator(".stroke")).to_have_count(0)
    page.mouse.up()
    expect(page.get_by_role("radio", name="draw")).to_be_checked()
    assert job.read_bytes() == before

"""The sheet: stickers taken and moved, turned, sized, lined up; cut lines, lettering, colours, the sheet."""

import math
import os
import random
import tomllib
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest
import shapely
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Locator, Page, expect

from helpers_page import running_desk, saved, visit
from limner.job import load_job
from limner.pipeline import build_sheet

JOB = """\
# A small pool.
[sheet]
size = "A6"
background = "foam"

[colours]
foam  = "#e3fff2"
coral = { cmyk = [0, 52, 50, 3] }

[cut]
distance = "2 mm"

[[lettering]]
text = "Pool"
size = "20 pt"
at = ["52 mm", "16 mm"]
fill = "coral"

[[sticker]]
name = "kelp"
art = "kelp.svg"
width = "12 mm"
at = ["25 mm", "60 mm"]

[[sticker]]
name = "pebble"
art = "pebble.svg"
width = "20 mm"
at = ["75 mm", "50 mm"]

[[sticker]]
name = "buoy"
art = "pebble.svg"
width = "14 mm"
at = ["60 mm", "110 mm"]
"""

KELP = '<path id="leaf" d="M4 0L16 0L16 30L4 30Z" fill="#7fb069"/>'
PEBBLE = '<path id="stone" d="M0 8C0 2 20 2 20 8C20 14 0 14 0 8Z" fill="#e0d0b0"/>'


def art(size: str, body: str) -> str:
    """Vector art of her own."""
    width, height = size.split()
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {size}">{body}</svg>'
    )


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sheet")
    (folder / "kelp.svg").write_text(art("20 30", KELP), encoding="utf-8")
    (folder / "pebble.svg").write_text(art("20 16", PEBBLE), encoding="utf-8")
    job = folder / "pool.toml"
    job.write_text(JOB, encoding="utf-8")
    return job


@pytest.fixture(scope="module")
def address(browser: Browser, job: Path) -> Iterator[str]:
    with running_desk(job) as address:
        yield address


@pytest.fixture(scope="module")
def opened(browser: Browser, address: str) -> Iterator[Page]:
    with visit(browser, address) as page:
        expect(page.locator("g[data-sticker]")).to_have_count(3)
        saved(page)
        yield page


@pytest.fixture
def page(opened: Page, job: Path) -> Iterator[Page]:
    before = job.read_bytes()
    yield opened
    for _ in range(3):
        opened.keyboard.press("Escape")
    while job.read_bytes() != before:
        opened.get_by_role("button", name="Undo").click()
        saved(opened)


def said(job: Path, name: str) -> dict:
    """A sticker's table in the job file."""
    return next(one for one in tomllib.loads(job.read_text())["sticker"] if one["name"] == name)


def sticker(page: Page, name: str) -> Locator:
    return page.locator(f'g[data-sticker="{name}"]')


def middle(found: Locator) -> tuple[float, float]:
    box = found.bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def px_per_mm(page: Page) -> float:
    box = page.locator("rect.page").bounding_box()
    assert box is not None
    return box["width"] / 105


def drag(page: Page, start: tuple[float, float], by: tuple[float, float], *, hold: bool = False) -> None:
    (x, y), (dx, dy) = start, by
    page.mouse.move(x, y)
    page.mouse.down()
    for step in range(1, 9):
        page.mouse.move(x + dx * step / 8, y + dy * step / 8)
    if not hold:
        page.mouse.up()
        saved(page)


def slip(page: Page, name: str) -> Locator:
    found = page.get_by_role("dialog", name=name, exact=True)
    expect(found).to_be_visible()
    return found


def touch(page: Page, name: str) -> Locator:
    page.mouse.click(*middle(sticker(page, name)))
    # A second touch soon after would go into the sketch.
    page.wait_for_timeout(450)
    return slip(page, name)


def mm(words: str) -> float:
    number, unit = words.split()
    assert unit == "mm"
    return float(number)


def type_into(field: Locator, text: str) -> None:
    field.fill(text)
    field.press("Enter")


def test_the_sheet_lies_at_true_proportions_with_its_lines(page: Page) -> None:
    px = px_per_mm(page)
    for name, width, height in (("bleed", 111, 154), ("trim", 105, 148), ("safe", 97, 140)):
        box = page.locator(f"rect.{name}").bounding_box()
        assert box is not None
        assert (box["width"] / px, box["height"] / px) == pytest.approx((width, height), abs=0.6)
    cut = page.locator('[data-cut="kelp"]').bounding_box()
    assert cut is not None
    assert cut["height"] / px == pytest.approx(34, abs=1.2)  # with its stroke


def test_a_sticker_is_dragged_and_the_job_says_where(page: Page, job: Path) -> None:
    px = px_per_mm(page)
    drag(page, middle(sticker(page, "kelp")), (10 * px, -5 * px))
    assert [mm(one) for one in said(job, "kelp")["at"]] == pytest.approx([35, 55], abs=0.3)
    assert job.read_text().startswith("# A small pool.\n")
    assert "rotate" not in said(job, "kelp")
    assert said(job, "pebble")["at"] == ["75 mm", "50 mm"]
    assert page.get_by_role("button", name="Undo").get_attribute("title") == "Place of kelp"


def test_what_would_not_hold_shows_softly_while_it_is_moved(page: Page, job: Path) -> None:
    px = px_per_mm(page)
    marks = page.locator("[data-soft][visibility=visible]")
    drag(page, middle(sticker(page, "kelp")), (29 * px, -8 * px), hold=True)
    expect(page.locator("#foot .hint")).to_contain_text("from pebble, 2.0 mm asked")
    expect(marks).to_have_count(1)
    page.mouse.move(*middle(page.locator("rect.page")), steps=2)
    expect(marks).to_have_count(0)
    x, y = middle(page.locator("rect.page"))
    page.mouse.move(x, y + 66 * px, steps=3)
    expect(page.locator("#foot .hint")).to_contain_text("over the safe margin")
    before = job.read_bytes()
    page.mouse.up()
    saved(page)
    assert job.read_bytes() != before


def test_arrow_keys_move_and_the_grip_turns(page: Page, job: Path) -> None:
    sticker(page, "kelp").focus()
    for key in ("ArrowRight", "ArrowRight", "Shift+ArrowDown"):
        page.keyboard.press(key)
    page.wait_for_timeout(600)
    saved(page)
    assert said(job, "kelp")["at"] == ["26 mm", "65 mm"]
    expect(sticker(page, "kelp")).to_be_focused()
    page.get_by_role("slider", name="Angle of kelp").focus()
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("ArrowRight")
    page.wait_for_timeout(600)
    saved(page)
    assert said(job, "kelp")["rotate"] == 11
    grip = page.get_by_role("slider", name="Angle of kelp")
    x, y = middle(sticker(page, "kelp"))
    gx, gy = middle(grip)
    drag(page, (gx, gy), (x + (y - gy) - gx, y + (gx - x) - gy))
    assert said(job, "kelp")["rotate"] == pytest.approx(101, abs=2)


def test_the_slip_of_a_sticker_sizes_turns_and_frees_it(page: Page, job: Path) -> None:
    found = touch(page, "kelp")
    type_into(found.get_by_label("Width"), "16")
    saved(page)
    type_into(found.get_by_label("Turn"), "-20")
    saved(page)
    type_into(found.get_by_label("Ground"), "foam")
    saved(page)
    now = said(job, "kelp")
    assert (now["width"], now["rotate"], now["ground"]) == ("16 mm", -20, "foam")
    found.get_by_role("radio", name="limner's").check()
    saved(page)
    assert {"at", "rotate"} & set(said(job, "kelp")) == set()
    found.get_by_role("radio", name="yours").check()
    saved(page)
    assert "at" in said(job, "kelp")
    found.get_by_role("button", name="Take it off").click()
    saved(page)
    expect(sticker(page, "kelp")).to_have_count(0)


def test_the_slip_of_a_cut_line_follows_while_it_is_dragged(page: Page, job: Path) -> None:
    touch(page, "kelp").get_by_role("button", name="Cut line of kelp").click()
    found = slip(page, "Cut line of kelp")
    before = page.locator('[data-cut="kelp"]').get_attribute("d")
    x, y = middle(found.get_by_label("Distance"))
    drag(page, (x, y), (60, 0), hold=True)
    expect(page.locator('[data-cut="kelp"]')).not_to_have_attribute("d", before or "")
    page.mouse.up()
    saved(page)
    assert said(job, "kelp")["cut"]["distance"] == "3 mm"
    found.get_by_role("checkbox", name="ellipse").check()
    found.get_by_role("checkbox", name="outline").uncheck()
    saved(page)
    assert said(job, "kelp")["cut"]["form"] == "ellipse"
    found.get_by_role("button", name="As all the others").click()
    saved(page)
    assert "cut" not in said(job, "kelp")


def test_lettering_is_typed_where_it_stands_moved_and_begun(page: Page, job: Path) -> None:
    def lettering() -> list[dict]:
        return tomllib.loads(job.read_text())["lettering"]

    page.mouse.click(*middle(page.locator('[data-lettering="0"]')))
    found = slip(page, "Pool")
    found.get_by_role("textbox", name="Text").fill("Tide")
    expect(page.locator('[data-lettering="0"] text')).to_have_text("Tide")
    found.get_by_role("textbox", name="Text").press("Enter")
    found = slip(page, "Tide")
    type_into(found.get_by_label("Size"), "24")
    found.get_by_role("radio", name="plain").check()
    type_into(found.get_by_label("Arc"), "60")
    type_into(found.get_by_label("Turn"), "5")
    saved(page)
    (one,) = lettering()
    assert (one["text"], one["size"], one["face"]) == ("Tide", "24 pt", "text")
    assert (one["arc"], one["rotate"]) == ("60 mm", 5)
    page.keyboard.press("Escape")
    px = px_per_mm(page)
    drag(page, middle(page.locator('[data-lettering="0"]')), (0, 4 * px))
    assert mm(lettering()[0]["at"][1]) == pytest.approx(20, abs=0.3)

    page.get_by_role("button", name="New lettering").click()
    x, y = middle(page.locator("rect.page"))
    page.mouse.click(x, y)
    text = page.get_by_role("dialog").get_by_role("textbox", name="Text")
    text.fill("credits")
    text.press("Enter")
    saved(page)
    assert lettering()[1]["text"] == "credits"
    assert [mm(at) for at in lettering()[1]["at"]] == pytest.approx([52.5, 74], abs=0.3)


def test_several_are_lined_up_and_spaced(page: Page, job: Path) -> None:
    page.keyboard.down("Shift")
    for name in ("kelp", "pebble", "buoy"):
        page.mouse.click(*middle(sticker(page, name)))
        page.wait_for_timeout(450)
    page.keyboard.up("Shift")
    found = slip(page, "3 stickers")
    found.get_by_role("button", name="Line up: middle").click()
    saved(page)
    places = [mm(said(job, name)["at"][0]) for name in ("kelp", "pebble", "buoy")]
    assert places == pytest.approx([places[0]] * 3, abs=0.15)
    found.get_by_role("button", name="Space evenly: down").click()
    saved(page)
    boxes = [page.locator(f'[data-cut="{name}"]').bounding_box() for name in ("pebble", "kelp", "buoy")]
    gaps = [b["y"] - a["y"] - a["height"] for a, b in pairwise(boxes) if a and b]
    assert gaps[0] == pytest.approx(gaps[1], abs=1.5)
    before = middle(sticker(page, "buoy"))
    drag(page, middle(sticker(page, "kelp")), (-40, 0))
    assert middle(sticker(page, "buoy"))[0] == pytest.approx(before[0] - 40, abs=2)


def test_what_is_to_be_mended_is_mended_in_one_touch(page: Page, job: Path) -> None:
    px = px_per_mm(page)
    drag(page, middle(sticker(page, "kelp")), (-14 * px, 0))
    page.get_by_role("button", name="move it inwards").click()
    page.get_by_role("dialog").get_by_role("button", name="Move it in").click()
    saved(page)
    expect(page.get_by_role("button", name="move it inwards")).to_have_count(0)
    assert 11.9 < mm(said(job, "kelp")["at"][0]) < 13


def test_what_stands_against_sending_is_said_with_the_files(page: Page, job: Path) -> None:
    px = px_per_mm(page)
    drag(page, middle(sticker(page, "kelp")), (46 * px, -10 * px))
    page.get_by_role("button", name="Write the files").click()
    expect(page.get_by_text("still to be mended")).to_be_visible()
    page.get_by_role("button", name="Show 1").click()
    expect(page.get_by_role("dialog", name="1, to be mended")).to_contain_text("cross or touch")
    page.get_by_role("button", name="Move it to where there is room").click()
    saved(page)
    expect(page.get_by_role("button", name="cross or touch")).to_have_count(0)


STEPS = int(os.environ.get("LIMNER_SHEET_STEPS", "10"))


def test_whatever_is_done_the_sheet_is_that_of_the_job(page: Page, job: Path) -> None:
    chance = random.Random(11)
    names = ("kelp", "pebble", "buoy")
    for _ in range(STEPS):
        what, name = chance.choice(("move", "turn", "size", "undo", "redo")), chance.choice(names)
        if what in ("undo", "redo"):
            button = page.get_by_role("button", name=what.title())
            # What was there before this test stays.
            if button.is_enabled() and (what == "redo" or job.read_text() != JOB):
                button.click()
        elif what == "size":
            sticker(page, name).focus()
            page.keyboard.press("Space")
            type_into(slip(page, name).get_by_label("Width"), str(chance.randint(8, 20)))
            page.keyboard.press("Escape")
        else:
            sticker(page, name).focus()
            page.keyboard.press("ArrowRight")
            if what == "turn":
                page.get_by_role("slider", name=f"Angle of {name}").focus()
            for _ in range(chance.randint(1, 4)):
                page.keyboard.press(chance.choice(("Shift+ArrowRight", "ArrowUp", "ArrowLeft", "ArrowDown")))
            page.wait_for_timeout(550)
        saved(page)
        load_job(job)
    made = build_sheet(load_job(job), workers=1).sheet
    assert page.locator("g[data-sticker][transform]").count() == 0
    shown = {
        one["name"]: one
        for one in page.evaluate("async () => (await (await fetch('/sheet')).json()).stickers")
    }
    for one in made.stickers:
        x, y = made.page.to_trim(one.x_mm, one.y_mm)
        there = shown[one.name]
        assert (there["x_mm"], there["y_mm"], there["turn_deg"]) == pytest.approx(
            (x, y, one.rotate_deg), abs=0.002
        )
        image = sticker(page, one.name).locator("rect.touchable")
        assert float(image.get_attribute("width") or 0) == pytest.approx(one.width_mm, abs=0.002)
        assert float(image.get_attribute("x") or 0) == pytest.approx(x - one.width_mm / 2, abs=0.002)


def test_colours_change_everywhere_and_the_sheet_has_a_slip(page: Page, job: Path) -> None:
    page.get_by_role("button", name="Colours").click()
    found = slip(page, "Colours")
    type_into(found.get_by_label("Value of foam"), "#ffeecc")
    expect(page.locator("rect.page")).to_have_css("fill", "rgb(255, 238, 204)")
    saved(page)
    type_into(found.get_by_label("Name of coral"), "dusk")
    saved(page)
    now = tomllib.loads(job.read_text())
    assert now["colours"]["foam"] == "#ffeecc"
    assert now["colours"]["dusk"] == {"cmyk": [0, 52, 50, 3]}
    assert "coral" not in now["colours"]
    assert now["lettering"][0]["fill"] == "dusk"
    page.keyboard.press("Escape")

    box = page.locator("rect.page").bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + 12, box["y"] + 12)
    found = slip(page, "Sheet")
    found.get_by_role("radio", name="landscape").check()
    type_into(found.get_by_label("Bleed"), "2")
    type_into(found.get_by_label("Safe margin"), "5 mm")
    saved(page)
    now = tomllib.loads(job.read_text())["sheet"]
    assert (now["orientation"], now["bleed"], now["safe"]) == ("landscape", "2 mm", "5 mm")
    found.get_by_role("button", name="The printing company …").click()
    type_into(slip(page, "Printing company").get_by_label("Smallest text"), "6")
    saved(page)
    assert tomllib.loads(job.read_text())["print"]["smallest_text"] == "6 pt"


def test_the_rest_keeps_its_place_or_is_laid_out_anew(page: Page, job: Path) -> None:
    sticker(page, "kelp").focus()
    page.keyboard.press("Space")
    slip(page, "kelp").get_by_role("radio", name="limner's").check()
    saved(page)
    page.keyboard.press("Escape")
    page.get_by_role("button", name="Place the rest").click()
    slip(page, "The rest").get_by_role("button", name="Keep them where they lie").click()
    saved(page)
    assert "at" in said(job, "kelp")
    assert said(job, "buoy")["at"] == ["60 mm", "110 mm"]
    slip(page, "The rest").get_by_role("button", name="Lay out all but those taken").click()
    saved(page)
    assert "at" in said(job, "kelp")
    assert "at" not in said(job, "buoy")
    page.keyboard.press("Escape")

    # What limner has laid out stays where it is seen once something is moved by hand.
    before = {name: middle(sticker(page, name)) for name in ("pebble", "buoy")}
    drag(page, middle(sticker(page, "kelp")), (4, 4))
    assert {name: middle(sticker(page, name)) for name in before} == {
        name: pytest.approx(place, abs=0.5) for name, place in before.items()
    }
    assert "at" in said(job, "pebble")
    assert "at" in said(job, "buoy")
    assert page.get_by_role("button", name="Undo").get_attribute("title") == "Place of kelp"


def ring(chance: random.Random, x: float, y: float) -> list[tuple[float, float]]:
    """A closed line of a few corners about a point."""
    count = chance.randint(4, 9)
    turns = [2 * math.pi * (number + chance.uniform(0, 0.9)) / count for number in range(count)]
    far = [chance.uniform(3, 9) for _ in turns]
    return [(x + r * math.cos(turn), y + r * math.sin(turn)) for r, turn in zip(far, turns, strict=True)]


NEAREST = """async pairs => {
  const { nearest, outline } = await import("/page/sheet/outlines.js");
  return pairs.map(([one, other]) => nearest(outline(one), outline(other), 30)?.distance ?? null);
}"""


def test_outlines_are_as_far_apart_as_an_independent_geometry_says(page: Page) -> None:
    chance = random.Random(7)
    pairs = [[ring(chance, 0, 0), ring(chance, chance.uniform(0, 25), 4)] for _ in range(200)]
    found = page.evaluate(NEAREST, pairs)
    assert sum(distance == 0 for distance in found) > 20
    assert sum(distance > 1 for distance in found) > 50
    for (one, other), distance in zip(pairs, found, strict=True):
        a, b = shapely.Polygon(one).buffer(0), shapely.Polygon(other).buffer(0)
        expected = a.distance(b)
        if expected > 0 or a.contains(b.representative_point()):
            assert distance == pytest.approx(expected, abs=1e-6)


TOGETHER = """async cases => {
  const { linedUp, spaced, LINES } = await import("/page/edits/together.js");
  const moved = (boxes, moves) => boxes.map(box => {
    const [dx, dy] = moves.get(box.name);
    return { ...box, left: box.left + dx, right: box.right + dx, top: box.top + dy, bottom: box.bottom + dy };
  });
  return cases.map(boxes => ({
    lines: Object.fromEntries(LINES.map(line => [line, moved(boxes, linedUp(boxes, line))])),
    across: moved(boxes, spaced(boxes, "across")), down: moved(boxes, spaced(boxes, "down")),
  }));
}"""


EDGES = (("left", "left", "left"), ("middle", "left", "right"), ("bottom", "bottom", "bottom"))


def test_what_is_lined_up_stands_in_line_and_what_is_spaced_has_equal_gaps(page: Page) -> None:
    chance = random.Random(3)
    cases = []
    for _ in range(60):
        boxes = []
        for number in range(chance.randint(2, 7)):
            left, top = chance.uniform(0, 90), chance.uniform(0, 140)
            right, bottom = left + chance.uniform(2, 30), top + chance.uniform(2, 30)
            boxes.append({"name": f"s{number}", "left": left, "top": top, "right": right, "bottom": bottom})
        cases.append(boxes)
    for boxes, made in zip(cases, page.evaluate(TOGETHER, cases), strict=True):
        for line, low, high in EDGES:
            places = [one[low] + one[high] for one in made["lines"][line]]
            assert places == pytest.approx([places[0]] * len(places), abs=1e-9)
        for way, low, high in (("across", "left", "right"), ("down", "top", "bottom")):
            ends = sorted(boxes, key=lambda one: one[low] + one[high])
            there = {one["name"]: one for one in made[way]}
            order = [there[one["name"]] for one in ends]
            gaps = [b[low] - a[high] for a, b in pairwise(order)]
            assert gaps == pytest.approx([gaps[0]] * len(gaps), abs=1e-9)
            assert order[0][low] == pytest.approx(ends[0][low])
            assert order[-1][high] == pytest.approx(ends[-1][high])


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (900, "dark")])
def test_everybody_can_use_the_slips_of_the_sheet(
    browser: Browser, address: str, opened: Page, width: int, scheme: str
) -> None:
    look = {"viewport": {"width": width, "height": 700}, "color_scheme": scheme}
    with visit(browser, opened.url, **look, storage_state=opened.context.storage_state()) as page:
        expect(page.locator("g[data-sticker]")).to_have_count(3)
        sticker(page, "kelp").focus()
        page.keyboard.press("Space")
        check(page)
        page.get_by_role("button", name="Cut line of kelp").click()
        check(page)
        for word in ("Colours", "Place the rest"):
            page.get_by_role("button", name=word).click()
            check(page)
        page.locator("[data-lettering]").first.focus()
        page.keyboard.press("Enter")
        expect(page.get_by_role("dialog").get_by_role("textbox", name="Text")).to_be_focused()
        check(page)


def check(page: Page) -> None:
    """No finding of the levels serious and critical."""
    found = [
        one for one in Axe().run(page).response["violations"] if one["impact"] in ("serious", "critical")
    ]
    assert [(one["id"], one["nodes"][0]["html"]) for one in found] == []
    box = page.get_by_role("dialog").bounding_box()
    assert box is not None
    assert box["x"] >= 0
    assert box["y"] >= 0


def test_vector_art_is_dropped_and_becomes_a_sticker(page: Page, job: Path) -> None:
    drop = """art => {
      const dataTransfer = new DataTransfer();
      dataTransfer.items.add(new File([art], "weed.svg", { type: "image/svg+xml" }));
      document.body.dispatchEvent(new DragEvent("drop", { dataTransfer, bubbles: true, cancelable: true }));
    }"""
    page.evaluate(drop, art("20 30", KELP))
    page.get_by_role("button", name="Back to the sheet").click()
    expect(page.locator('[data-sticker="weed"]')).to_be_visible()
    saved(page)
    assert said(job, "weed")["art"] == "weed.svg"
    # There is no room for it: it waits, and is laid by hand.
    px = px_per_mm(page)
    print_ = page.get_by_role("group", name="Waiting sketches").get_by_role("button", name="weed")
    (x, y), (cx, cy) = middle(print_), middle(page.locator("rect.page"))
    drag(page, (x, y), (cx - x, cy + 10 * px - y))
    expect(sticker(page, "weed")).to_be_visible()
    assert [mm(at) for at in said(job, "weed")["at"]] == pytest.approx([52.5, 84], abs=0.4)

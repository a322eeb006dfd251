"""A small sheet from an empty desk to its files, by what a person can do, and by nothing else."""

import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from helpers_page import open_browser, running_desk, saved, visit
from limner.demo import demo_files

SKETCHES = ("cockle.jpg", "half-diver.jpg", "whelk.jpg")


@pytest.fixture
def browser() -> Iterator[Browser]:
    with open_browser() as browser:
        yield browser


class Person:
    """Somebody at the desk: each touch, each thing typed and each key is counted."""

    def __init__(self, page: Page) -> None:
        self.page, self.touches = page, 0

    def at(self, x: float, y: float) -> None:
        self.touches += 1
        self.page.mouse.click(x, y)
        # Not so soon that two touches would be taken for one that goes in.
        self.page.wait_for_timeout(450)

    def touch(self, found: Locator) -> None:
        self.touches += 1
        found.click()

    def check(self, found: Locator) -> None:
        self.touches += 1
        found.check()

    def type(self, found: Locator, text: str) -> None:
        self.touches += 1
        found.fill(text)
        found.press("Enter")

    def key(self, key: str) -> None:
        self.touches += 1
        self.page.keyboard.press(key)

    def word(self, name: str) -> None:
        self.touch(self.page.get_by_role("button", name=name, exact=True))

    def slip(self) -> Locator:
        found = self.page.get_by_role("dialog")
        expect(found).to_be_visible()
        return found

    def sticker(self, name: str) -> tuple[float, float]:
        box = self.page.locator(f'g[data-sticker="{name}"]').bounding_box()
        assert box is not None
        return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    def into(self, name: str) -> None:
        self.touches += 1
        self.page.mouse.dblclick(*self.sticker(name))
        expect(self.page.locator("[data-area]").first).to_be_attached()
        saved(self.page)

    def sheet_at(self, x_mm: float, y_mm: float) -> None:
        box = self.page.locator("rect.page").bounding_box()
        assert box is not None
        px = box["width"] / 105
        self.at(box["x"] + x_mm * px, box["y"] + y_mm * px)

    def sketch_at(self, fx: float, fy: float) -> None:
        box = self.page.locator("#surface image").bounding_box()
        assert box is not None
        self.at(box["x"] + fx * box["width"], box["y"] + fy * box["height"])


def bring(person: Person, folder: Path) -> None:
    """The photographs, chosen at once."""
    demo = demo_files()
    for name in SKETCHES:
        (folder / name).write_bytes(demo[name])
    with person.page.expect_file_chooser() as chooser:
        person.word("Bring a sketch")
    person.touches += 1
    chooser.value.set_files([folder / name for name in SKETCHES])
    expect(person.page.locator("g[data-sticker]")).to_have_count(3, timeout=60_000)
    saved(person.page)


def colours(person: Person) -> None:
    person.word("Colours")
    slip = person.slip()
    person.touch(slip.get_by_role("button", name="Mix a new one"))
    slip.get_by_label("Called").fill("foam")
    person.touches += 1
    person.type(slip.get_by_label("CMYK or screen"), "11 0 5 0")
    expect(slip.get_by_label("Name of foam")).to_be_visible()
    person.key("Escape")
    person.sheet_at(3, 3)
    person.type(person.slip().get_by_label("Background"), "foam")
    person.key("Escape")
    saved(person.page)


def sticker_widths(person: Person) -> None:
    for name, width in (("cockle", "28"), ("half-diver", "40"), ("whelk", "21")):
        person.at(*person.sticker(name))
        person.type(person.slip().get_by_label("Width"), width)
        saved(person.page)
        person.key("Escape")


def an_ellipse(person: Person) -> None:
    person.at(*person.sticker("cockle"))
    person.touch(person.slip().get_by_role("button", name="Cut line of cockle"))
    person.check(person.slip().get_by_role("checkbox", name="ellipse"))
    person.touches += 1
    person.slip().get_by_role("checkbox", name="outline").uncheck()
    person.key("Escape")
    saved(person.page)


def a_mirrored_face(person: Person) -> None:
    person.into("half-diver")
    person.touch(person.page.locator("#foot .about"))
    person.check(person.slip().get_by_role("radiogroup", name="Mirror").get_by_role("radio", name="found"))
    saved(person.page)
    person.key("Escape")
    person.key("Escape")


def colours_of_a_shell(person: Person) -> None:
    person.into("cockle")
    person.sketch_at(0.592, 0.599)
    person.type(person.slip().get_by_label("Name"), "bands")
    person.type(person.slip().get_by_label("Colour"), "coral")
    saved(person.page)
    person.key("Escape")
    person.key("Escape")
    saved(person.page)


def lettering(person: Person, text: str, size: str, y_mm: float, face: str, fill: str) -> None:
    person.word("New lettering")
    person.sheet_at(52.5, y_mm)
    slip = person.slip()
    person.type(slip.get_by_role("textbox", name="Text"), text)
    person.type(slip.get_by_label("Size"), size)
    person.type(slip.get_by_label("Colour"), fill)
    if face == "plain":
        person.check(slip.get_by_role("radio", name="plain"))
    person.key("Escape")
    saved(person.page)


@pytest.mark.slow
def test_a_small_sheet_is_made_by_hand_from_photographs_to_files(
    browser: Browser, tmp_path: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    desk = tmp_path / "pool"
    desk.mkdir()
    with running_desk(desk) as address, visit(browser, address) as page:
        expect(page.get_by_role("heading", name="Drop sketches here")).to_be_visible()
        person = Person(page)
        bring(person, tmp_path_factory.mktemp("photographs"))
        colours(person)
        sticker_widths(person)
        an_ellipse(person)
        a_mirrored_face(person)
        colours_of_a_shell(person)
        lettering(person, "Tide Pool", "23", 13.5, "round", "deep")
        lettering(person, "drawn in pencil", "6", 142.5, "plain", "black")
        person.word("Write the files")
        expect(page.get_by_text("Written into the folder sheet")).to_be_visible(timeout=60_000)
        expect(page.get_by_text("still to be mended")).to_have_count(0)
        print(f"touches: {person.touches}")
    assert person.touches < 80
    (job,) = desk.glob("*.toml")
    made = tomllib.loads(job.read_text())
    stickers = {one["name"]: one for one in made["sticker"]}
    assert stickers["cockle"]["cut"]["form"] == "ellipse"
    assert stickers["cockle"]["area"][0]["name"] == "bands"
    assert stickers["half-diver"]["mirror"] == "auto"
    assert [one["text"] for one in made["lettering"]] == ["Tide Pool", "drawn in pencil"]
    assert made["sheet"]["background"] == "foam"
    assert (desk / "sheet" / "sheet.pdf").read_bytes().startswith(b"%PDF")
    assert (desk / "sheet" / "proof.png").exists()

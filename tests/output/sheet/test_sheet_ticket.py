"""The ticket tells a printing company all it needs, on one page that holds nothing but itself."""

import base64
import re
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers_render import chromium
from helpers_sheet import spoilt, tide_pool, with_sticker
from limner.model.finding import Finding
from limner.model.sheet import Sheet
from limner.output.sheet.ticket import sheet_ticket

PNG = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
)

VOID = {"meta", "img", "br", "wbr"}
KNOWN = VOID | {
    "html", "head", "title", "style", "body", "main", "header", "div", "h1", "h2", "p", "span", "section",
    "table", "thead", "tbody", "tr", "th", "td", "figure", "figcaption", "bdi", "footer",
}  # fmt: skip


class Reader(HTMLParser):
    """Collects text and tags, and minds that every tag is closed where it should be."""

    def __init__(self) -> None:
        super().__init__()
        self.stack: list[str] = []
        self.tags: set[str] = set()
        self.attributes: list[tuple[str, str | None]] = []
        self.words: list[str] = []

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        self.attributes += attrs
        if tag not in VOID:
            self.stack.append(tag)

    def handle_endtag(self, tag):
        assert self.stack.pop() == tag

    def handle_data(self, data):
        if self.stack and self.stack[-1] != "style":
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join("".join(self.words).replace("\xa0", " ").split())


def read(sheet: Sheet, findings: tuple[Finding, ...] = ()) -> Reader:
    reader = Reader()
    reader.feed(sheet_ticket(sheet, findings, PNG).decode("utf-8"))
    reader.close()
    assert reader.stack == []
    return reader


@cache
def good() -> Reader:
    return read(tide_pool())


@pytest.mark.parametrize(
    "fact",
    [
        "A6, 105 × 148 mm",  # noqa: RUF001 - the sign of multiplication is meant
        "111 × 154 mm",  # noqa: RUF001
        "3 mm on all sides",
        "4 mm inside the trim",
        "Cutting, overprinting, drawn as a line of 0.25 pt",
        "“cut”, marked as Structural / Cutting (ISO 19593-1)",
        "4, each one closed path",
        "Total length42.3 cm",
        "sand51326044 %as given",
        "sea star",
        "outline",
        "Tide Pool",
        "26 pt",
        "Blacklines and lettering in black alone overprint",
        "ready for the press",
        "Nothing found",
    ],
)
def test_it_says(fact):
    assert fact in good().text


def test_the_total_length_is_that_of_the_cuts():
    total = sum(sticker.cut.length_mm for sticker in tide_pool().stickers) / 10
    assert f"{total:.1f} cm" in good().text


def test_findings_are_numbered_as_on_the_proof():
    findings = (
        Finding("error", "cut-too-near", (13.0, 23.0), "The cut comes within 1.93 mm; move it."),
        Finding("warning", "ink-heavy", None, "Too much ink; take some off."),
    )
    text = read(tide_pool(), findings).text
    assert "1 to mend before printing" in text
    # Counted from the trim's corner: 3 mm of bleed off both.
    assert "1mendThe cut comes within 1.93 mm; move it.10.0, 20.0" in text
    assert "2lookToo much ink; take some off.whole sheet" in text
    assert "1 to look at" in read(tide_pool(), findings[1:]).text


def test_value_and_unit_stay_together():
    html = sheet_ticket(tide_pool(), (Finding("note", "x", None, "It is 2 mm off; see."),), PNG).decode()
    assert "2&nbsp;mm off" in html


def test_the_picture_is_embedded_and_nothing_is_loaded():
    reader = good()
    (source,) = [value for name, value in reader.attributes if name == "src"]
    assert source == "data:image/png;base64," + base64.b64encode(PNG).decode()
    assert not [name for name, _ in reader.attributes if name in {"href", "onload", "action"}]
    html = sheet_ticket(tide_pool(), (), PNG).decode()
    assert "url(" not in html
    assert "@import" not in html
    assert "default-src 'none'" in html
    assert reader.tags <= KNOWN


@settings(max_examples=60, deadline=None)
@given(st.text(), st.text(), st.text(), st.text(), st.text())
def test_nothing_from_the_job_becomes_markup(name, sticker, text, separation, message):
    sheet = with_sticker(tide_pool(), 0, name=sticker, cut=replace(tide_pool().stickers[0].cut, form=name))
    piece = replace(sheet.letterings[0], text=text, font=name)
    colour = replace(sheet.colours[0], name=sticker)
    sheet = replace(
        sheet,
        name=name,
        letterings=(piece,),
        colours=(colour,),
        separation=replace(sheet.separation, name=separation),
        page=replace(sheet.page, size_name=text),
        profile=b"x",
        profile_name=message,
    )
    finding = Finding("note", "x", None, message)
    reader = read(sheet, (finding,))
    assert reader.tags <= KNOWN


@pytest.mark.parametrize(
    "evil",
    ["<script>alert(1)</script>", "</title><script>", '"><img src=x onerror=alert(1)>', "<!--", "&lt;b&gt;"],
)
def test_markup_in_names_is_shown_as_text(evil):
    reader = read(replace(with_sticker(tide_pool(), 0, name=evil), name=evil))
    assert "script" not in reader.tags
    assert evil in reader.text


def test_a_colour_that_is_none_does_not_reach_the_style():
    sheet = tide_pool()
    bad = replace(sheet.colours[0], screen="red;background:url(//x)")
    html = sheet_ticket(replace(sheet, colours=(bad,), separation=bad, background=bad), (), PNG).decode()
    assert "red;" not in html


def test_a_very_long_name_may_break():
    html = sheet_ticket(with_sticker(tide_pool(), 0, name="x" * 200), (), PNG).decode()
    assert max(len(word) for word in re.findall("x+", html)) <= 16
    assert html.count("x") >= 200


def test_lines_of_lettering_are_shown_as_lines():
    sheet = tide_pool()
    piece = replace(sheet.letterings[0], text="Tide\nPool")
    assert (
        "<bdi>Tide</bdi><br><bdi>Pool</bdi>"
        in sheet_ticket(replace(sheet, letterings=(piece,)), (), PNG).decode()
    )


def test_with_a_profile_it_names_the_standard():
    text = read(replace(tide_pool(), profile=b"x", profile_name="Some press, coated")).text
    assert "Printing conditionSome press, coated" in text
    assert "PDF/X-4" in text
    assert "PDF/X-4" not in good().text


def test_no_lettering_no_table_of_it():
    assert "Face" not in read(replace(tide_pool(), letterings=())).text


def test_the_same_bytes_twice():
    assert sheet_ticket(spoilt(), (), PNG) == sheet_ticket(spoilt(), (), PNG)


def test_a_browser_shows_it_without_overflow(tmp_path):
    """Long names and many findings fit a narrow window: nothing is painted in its right-hand margin."""
    sheet = with_sticker(tide_pool(), 0, name="x" * 200)
    findings = tuple(Finding("error", "x", (1.0, 2.0), "Much to say " * 12 + "; mend.") for _ in range(120))
    page = tmp_path / "report.html"
    page.write_bytes(sheet_ticket(sheet, findings, PNG))
    picture = chromium(page, 1100, 900, tmp_path)
    assert (picture[:, -12:] == picture[0, -1]).all()
    assert (picture[:, 60:-60] != picture[0, -1]).any()

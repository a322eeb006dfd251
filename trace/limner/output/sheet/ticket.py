"""The job ticket: one self-contained page that tells a printing company all about the sheet.

It holds no script and loads nothing; its picture is embedded. Whatever comes from the job is escaped.
"""

import base64
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from html import escape

from limner.geometry.lengths import MM_PER_PT
from limner.model.colour import PressColour
from limner.model.finding import Finding
from limner.model.sheet import Page, PlacedLettering, PlacedSticker, Sheet
from limner.output.markup import plain_text
from limner.output.sheet.pdf import is_black
from limner.output.sheet.proof import SEVERITY_COLOURS, safe_colour
from limner.output.sheet.report import cut_length_mm

__all__ = ["sheet_ticket"]

_TIMES = "\N{MULTIPLICATION SIGN}"
_SEVERITY_WORDS = {"error": "mend", "warning": "look", "note": "note"}
_SOURCE_WORDS = {
    "given": "as given",
    "one-ink": "RGB, in black ink alone",
    "profile": "by the profile",
    "approximate": "approximate",
    "default": "chosen tint",
}

# A value and its unit stay on one line.
_VALUE_AND_UNIT = re.compile(r"(\d) (mm|pt|%)(?!\w)")
# A line may break even without a space after every sixteen letters of a word.
_LONG_WORD = re.compile(r"\S{16}(?=\S)")

_CAPTION = (
    "Proof on screen. Colours in print differ; the press values count. Numbers mark the findings below."
)
_FOOTNOTE = (
    "Places count from the top left corner of the trimmed sheet, to the right and down, to the centre of the "
    "art. Distances between cut and art are measured, not asked for."
)

_STYLE = """
:root { --ink: #2b2a27; --soft: #6d6a63; --rule: #d9d5cc; --paper: #fbfaf7; --card: #ffffff; }
* { box-sizing: border-box; }
body { margin: 0; padding: 2.5rem 1.5rem 4rem; background: var(--paper); color: var(--ink);
  font: 15px/1.5 system-ui, sans-serif; -webkit-print-color-adjust: exact; print-color-adjust: exact; }
main { max-width: 62rem; margin: 0 auto; }
header { display: flex; flex-wrap: wrap; gap: .5rem 1.5rem; align-items: baseline;
  justify-content: space-between; border-bottom: 2px solid var(--ink); padding-bottom: .8rem; }
h1 { font-size: 2rem; line-height: 1.15; margin: 0; letter-spacing: -.01em; overflow-wrap: anywhere; }
header p { margin: 0; color: var(--soft); }
.state { font-weight: 600; padding: .2rem .8rem; border-radius: 1rem; color: #fff; white-space: nowrap; }
h2 { font-size: .78rem; letter-spacing: .09em; text-transform: uppercase; color: var(--soft);
  margin: 2.2rem 0 .6rem; }
.top { display: grid; grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); gap: 0 2.5rem;
  align-items: start; }
figure { margin: 2.2rem 0 0; }
img { display: block; width: 100%; height: auto; border: 1px solid var(--rule); }
figcaption { color: var(--soft); font-size: .85rem; margin-top: .5rem; }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
th, td { text-align: left; vertical-align: top; padding: .38rem .9rem .38rem 0;
  border-bottom: 1px solid var(--rule); overflow-wrap: break-word; }
th { font-weight: 600; white-space: nowrap; }
thead th { color: var(--soft); font-weight: 500; font-size: .85rem; }
.facts th { width: 9.5rem; font-weight: 500; color: var(--soft); }
.n { text-align: right; white-space: nowrap; }
.n + :not(.n) { padding-left: .6rem; }
.tight { white-space: nowrap; width: 1%; }
td:last-child, th:last-child { padding-right: 0; }
.swatch { display: inline-block; width: 1.5rem; height: 1rem; border: 1px solid rgba(0, 0, 0, .25);
  border-radius: 2px; vertical-align: -.15rem; margin-right: .55rem; }
.badge { display: inline-block; min-width: 1.6rem; padding: 0 .35rem; border-radius: .8rem; color: #fff;
  text-align: center; font-size: .85rem; font-weight: 600; line-height: 1.6rem; white-space: nowrap; }
.soft { color: var(--soft); }
footer { margin-top: 2.5rem; color: var(--soft); font-size: .85rem; }
@media (max-width: 46rem) { .top { grid-template-columns: minmax(0, 1fr); } .wide { overflow-x: auto; } }
@media print {
  @page { size: A4; margin: 14mm; }
  body { padding: 0; background: none; font-size: 9pt; }
  main { max-width: none; }
  .top { grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); }
  h2 { break-after: avoid; } tr, figure { break-inside: avoid; }
}
"""


def sheet_ticket(sheet: Sheet, findings: Sequence[Finding], proof_png: bytes) -> bytes:
    """Write the job ticket.

    Parameters
    ----------
    sheet : Sheet
        What was made.
    findings : sequence of Finding
        What preflight found, in the order in which the proof numbers them.
    proof_png : bytes
        The picture from `limner.output.sheet.proof.sheet_proof`, made with the same findings.

    Returns
    -------
    bytes
        One HTML page, UTF-8.
    """
    picture = base64.b64encode(proof_png).decode("ascii")
    body = [
        _header(sheet, findings),
        '<div class="top"><div>',
        _section("The sheet", _facts(_page_facts(sheet))),
        _section("Cutting", _facts(_cut_facts(sheet))),
        _section("Colours", _colours(sheet)),
        "</div>",
        f'<figure><img alt="Proof of the sheet" src="data:image/png;base64,{picture}">',
        f"<figcaption>{_CAPTION}</figcaption></figure></div>",
        _section("Findings", _findings(sheet, findings)),
        _section("Stickers", _stickers(sheet)),
        _section("Lettering", _letterings(sheet)) if sheet.letterings else "",
        f"<footer>{_FOOTNOTE}</footer>",
    ]
    page = (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; img-src data:; '
        "style-src 'unsafe-inline'\">\n"
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{_text(sheet.name)}: job ticket</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n<main>\n"
    )
    return (page + "\n".join(part for part in body if part) + "\n</main>\n</body>\n</html>\n").encode()


def _text(value: str) -> str:
    """Text from the job, made harmless."""
    return escape(plain_text(value))


def _name(value: str) -> str:
    """A name on its own: of either direction of writing, and breakable where a word is very long."""
    parts, start = [], 0
    for word in _LONG_WORD.finditer(text := plain_text(value)):
        parts.append(escape(text[start : word.end()]))
        start = word.end()
    return f"<bdi>{'<wbr>'.join([*parts, escape(text[start:])])}</bdi>"


def _section(title: str, body: str) -> str:
    return f"<section><h2>{title}</h2>\n{body}</section>"


def _facts(rows: Iterable[tuple[str, str]]) -> str:
    lines = "\n".join(f"<tr><th scope=row>{label}</th><td>{value}</td></tr>" for label, value in rows)
    return f'<table class="facts"><tbody>\n{lines}\n</tbody></table>'


def _table(heads: Sequence[tuple[str, str]], rows: Iterable[Sequence[str]]) -> str:
    """A table; each head is its text and the class of its column."""

    def cell(tag: str, text: str, kind: str) -> str:
        return f'<{tag} class="{kind}">{text}</{tag}>' if kind else f"<{tag}>{text}</{tag}>"

    kinds = [kind for _, kind in heads]
    head = "".join(cell("th", text, kind) for text, kind in heads)
    lines = "\n".join(
        "<tr>" + "".join(cell("td", text, kind) for text, kind in zip(row, kinds, strict=True)) + "</tr>"
        for row in rows
    )
    return f'<div class="wide"><table><thead><tr>{head}</tr></thead><tbody>\n{lines}\n</tbody></table></div>'


def _size(width: float, height: float, digits: int) -> str:
    """Two lengths as people write a size; zeros behind the point left out."""
    return f"{_length(width, digits)} {_TIMES} {_length(height, digits)} mm"


def _length(value: float, digits: int) -> str:
    text = f"{value:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


# Parts ----------------------------------------------------------------------------------------------------


def _header(sheet: Sheet, findings: Sequence[Finding]) -> str:
    counts = Counter(finding.severity for finding in findings)
    if counts["error"]:
        state, colour = f"{counts['error']} to mend before printing", SEVERITY_COLOURS["error"]
    elif counts["warning"]:
        state, colour = f"{counts['warning']} to look at", SEVERITY_COLOURS["warning"]
    else:
        state, colour = "ready for the press", "#2b6e3f"
    return (
        f"<header><div><h1>{_name(sheet.name)}</h1><p>Job ticket for a printed and cut sheet of "
        f"{_counted(len(sheet.stickers), 'sticker')}</p></div>"
        f'<span class="state" style="background:{colour}">{state}</span></header>'
    )


def _counted(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


def _page_facts(sheet: Sheet) -> list[tuple[str, str]]:
    page = sheet.page
    size = f"{_text(page.size_name)}, " if page.size_name else ""
    rows = [
        ("Trimmed size", f"{size}{_size(page.trim_width_mm, page.trim_height_mm, 2)}"),
        ("With bleed", _size(page.width_mm, page.height_mm, 2)),
        ("Bleed", f"{_length(page.bleed_mm, 2)} mm on all sides"),
        ("Safe margin", f"{_length(page.safe_mm, 2)} mm inside the trim"),
        ("Background", "bare paper" if sheet.background is None else _swatch(sheet.background)),
    ]
    if sheet.scale is not None:
        rows.append(("Scale", f"stickers without a place {_length(sheet.scale, 3)} times as wide as written"))
    if sheet.white is not None:
        inset = _length(sheet.white.inset_mm, 2)
        rows.append(
            (
                "White ink",
                (
                    f"{_name(sheet.white.separation.name)}, under all art of stickers and all lettering, "
                    f"{inset} mm smaller all round; layer “white”, marked as White (ISO&nbsp;19593-1)"
                ),
            )
        )
    condition = (
        _name(sheet.profile_name or "as embedded") if sheet.profile is not None else "no profile named"
    )
    rows.append(("Printing condition", condition))
    if sheet.profile is not None:
        rows.append(("Standard", "PDF/X-4"))
    if any(is_black(colour) for colour in sheet.colours):
        rows.append(("Black", "lines and lettering in black alone overprint"))
    return rows


def _cut_facts(sheet: Sheet) -> list[tuple[str, str]]:
    return [
        *_depth_facts(sheet.separation, "cut", "Cutting", len(sheet.cut_at("through")), "through everything"),
        *(
            _depth_facts(
                sheet.partial,
                "cut-partial",
                "PartialCutting",
                len(sheet.cut_at("partial")),
                "through the sticker, not its backing",
            )
            if sheet.partial is not None
            else []
        ),
        ("Total length", f"{cut_length_mm(sheet) / 10.0:.1f} cm"),
        ("Smallest gap", f"{_length(sheet.gap_mm, 2)} mm between neighbours asked for"),
    ]


def _depth_facts(
    separation: PressColour, layer: str, kind: str, count: int, depth: str
) -> list[tuple[str, str]]:
    return [
        ("Separation", f"{_swatch(separation)}, overprinting, drawn as a line of 0.25 pt"),
        ("Layer", f"“{layer}”, marked as Structural / {kind} (ISO&nbsp;19593-1)"),
        ("Cut lines", f"{count}, each one closed path, {depth}"),
    ]


def _swatch(colour: PressColour) -> str:
    return f'<span class="swatch" style="background:{safe_colour(colour.screen)}"></span>{_name(colour.name)}'


def _colours(sheet: Sheet) -> str:
    heads = [("Colour", ""), *((ink, "n") for ink in "CMYK"), ("Sum", "n"), ("From", "soft tight")]
    rows = [
        [
            _swatch(colour),
            *(_length(ink, 1) for ink in colour.cmyk),
            f"{colour.total_ink:.0f} %",
            _SOURCE_WORDS[colour.source],
        ]
        for colour in sheet.colours
    ]
    return _table(heads, rows)


def _findings(sheet: Sheet, findings: Sequence[Finding]) -> str:
    if not findings:
        return (
            "<p>Nothing found: cut lines, gaps, margins, inks, lines and lettering are as they should be.</p>"
        )
    rows = [
        [
            f'<span class="badge" style="background:{SEVERITY_COLOURS[finding.severity]}">{number}</span>',
            _SEVERITY_WORDS[finding.severity],
            _VALUE_AND_UNIT.sub(r"\1&nbsp;\2", _text(finding.message)),
            _place(finding, sheet.page),
        ]
        for number, finding in enumerate(findings, 1)
    ]
    return _table([("", "tight"), ("", "tight"), ("What", ""), ("Place, mm", "n")], rows)


def _place(finding: Finding, page: Page) -> str:
    if finding.where_mm is None:
        return "whole sheet"
    x, y = page.to_trim(*finding.where_mm)
    return f"{x:.1f}, {y:.1f}"


def _stickers(sheet: Sheet) -> str:
    heads = [
        ("Sticker", ""),
        ("Size of the art", "n"),
        ("Centre, mm", "n"),
        ("Turned", "n"),
        ("Cut form", ""),
        ("Cut to art, mm", "n"),
        ("Cut length", "n"),
        ("Nodes of the cut", "n"),
    ]
    return _table(heads, [_sticker_row(sticker, sheet.page) for sticker in sheet.stickers])


def _sticker_row(sticker: PlacedSticker, page: Page) -> list[str]:
    x, y = page.to_trim(sticker.x_mm, sticker.y_mm)
    cut = sticker.cut
    return [
        _name(sticker.name),
        f"{sticker.width_mm:.1f} {_TIMES} {sticker.height_mm:.1f} mm",
        f"{x:.1f}, {y:.1f}",
        f"{_length(sticker.rotate_deg, 1)}°",
        _text(cut.form if cut.depth == "through" else f"{cut.form}, partial"),
        f"{cut.min_distance_mm:.2f} to {cut.max_distance_mm:.2f}",
        f"{cut.length_mm:.1f} mm",
        str(cut.path.node_count),
    ]


def _letterings(sheet: Sheet) -> str:
    heads = [("Text", ""), ("Size", "n"), ("Face", ""), ("Colour", ""), ("Kept as", "soft")]
    return _table(heads, [_lettering_row(piece) for piece in sheet.letterings])


def _lettering_row(piece: PlacedLettering) -> list[str]:
    lines = "<br>".join(_name(line) for line in piece.text.split("\n"))
    size = f"{_length(piece.size_mm / MM_PER_PT, 1)} pt"
    return [lines, size, _name(piece.font), _swatch(piece.colour), "outlines, no font needed"]

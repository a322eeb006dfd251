"""A sheet as a press-ready PDF.

Method
------
One page whose MediaBox is its BleedBox, with a TrimBox. Layers are optional content groups with the names
that sheet.svg gives them. All fills are DeviceCMYK. The cut lines are one stroke each in a Separation colour
space of their own, overprinting, so that the process plates do not know of them; their layer carries the
processing-steps metadata of ISO 19593-1. Where the job names an ICC profile, the file also carries an output
intent and the keys of PDF/X-4 (ISO 15930-7). Black of one ink in lines and lettering overprints, so that
plates out of register show no paper beside it.

This is the one place that turns y upwards and millimetres into points.

Limits
------
* The dates are those of the environment variable SOURCE_DATE_EPOCH, or 2000-01-01 without it: a file must not
  depend on the clock.
* Compressed streams may differ, byte for byte, between builds of zlib; their content does not.
"""

import hashlib
import os
import zlib
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from html import escape
from io import BytesIO
from typing import Any

import numpy as np

from limner.errors import OutputError
from limner.geometry.lengths import MM_PER_PT
from limner.model.colour import RESERVED_SEPARATIONS, PressColour
from limner.model.geometry import CubicPath
from limner.model.sheet import ColouredShape, PlacedSticker, Sheet, White
from limner.output.markup import plain_text
from limner.output.sheet.layers import (
    BACKGROUND,
    CUT,
    LETTERING,
    PARTIAL_CUT,
    WHITE,
    SheetLayers,
    StickerLayers,
    sheet_layers,
)

__all__ = ["is_black", "sheet_pdf"]

_PT_PER_MM = 1.0 / MM_PER_PT
_MM_DECIMALS = 3  # as in the SVG, so that both files hold the same curves
_PT_DECIMALS = 4  # finer than 0.001 mm = 0.0028 pt
_EPOCH = 946_684_800  # 2000-01-01T00:00:00Z
_PRODUCER = "limner"


def sheet_pdf(sheet: Sheet) -> bytes:
    """Write a sheet as a PDF file for the printing company.

    Parameters
    ----------
    sheet : Sheet
        What to write.

    Returns
    -------
    bytes
        A PDF 1.6 file; PDF/X-4 where the sheet has a profile. The same sheet gives the same bytes.

    Raises
    ------
    OutputError
        The separation has a name that PDF reserves, or the profile is not one of a CMYK press.
    """
    import pikepdf

    for colour in _separations(sheet).values():
        _check_separation(colour)
    _check_profile(sheet)
    layers = sheet_layers(sheet)
    with pikepdf.new() as pdf:
        groups = _Groups(pdf, sheet, layers)
        content = _content(sheet, layers, groups)
        page = pdf.add_blank_page(page_size=(72, 72))
        page.obj.Contents = _stream(pdf, content)
        page.obj.Resources = _resources(pdf, sheet, groups)
        _set_boxes(page.obj, sheet)
        pdf.Root.OCProperties = groups.properties()
        _describe(pdf, sheet, content)
        if sheet.profile is not None:
            pdf.Root.OutputIntents = pikepdf.Array([_output_intent(pdf, sheet, sheet.profile)])
        file = BytesIO()
        pdf.save(
            file,
            force_version="1.6",
            compress_streams=False,
            fix_metadata_version=False,
            object_stream_mode=pikepdf.ObjectStreamMode.disable,
            deterministic_id=True,
        )
        return file.getvalue()


def _separations(sheet: Sheet) -> dict[str, PressColour]:
    """The separations of a sheet by the names of their resources."""
    found = {"Cut": sheet.separation}
    if sheet.partial is not None:
        found["PartialCut"] = sheet.partial
    if sheet.white is not None:
        found["White"] = sheet.white.separation
    return found


def _check_separation(separation: PressColour) -> None:
    name = separation.name
    if not name or "\0" in name or name.strip().lower() in RESERVED_SEPARATIONS:
        raise OutputError(
            f'A separation cannot be called "{plain_text(name)}", which means something else on a press; '
            'give it a name of its own, such as "Cutting".'
        )


def _check_profile(sheet: Sheet) -> None:
    # ICC.1: bytes 12 to 15 are the device class, 16 to 19 the colour space, 36 to 39 "acsp" (from memory).
    profile = sheet.profile
    if profile is None:
        return
    if (profile[12:16], profile[16:20], profile[36:40]) != (b"prtr", b"CMYK", b"acsp"):
        raise OutputError(
            f'The ICC profile "{plain_text(sheet.profile_name)}" is not one of a CMYK press; name the '
            "profile that the printing company gives, or leave it out."
        )


# Layers ---------------------------------------------------------------------------------------------------


class _Groups:
    """Optional content groups by layer name, and the names of their resources."""

    def __init__(self, pdf: Any, sheet: Sheet, layers: SheetLayers) -> None:
        self._pdf, self._sheet, self._layers = pdf, sheet, layers
        self.objects: dict[str, Any] = {}
        if sheet.white is not None:
            self._add(WHITE).GTS_Metadata = _processing_step("White")
        self._add(BACKGROUND)
        for ids, sticker in zip(layers.stickers, sheet.stickers, strict=True):
            for name in (ids.sticker, *_parts(ids, sticker)):
                self._add(name)
        self._add(LETTERING)
        if sheet.partial is not None:
            self._add(PARTIAL_CUT).GTS_Metadata = _processing_step("Structural", "PartialCutting")
        self._add(CUT).GTS_Metadata = _processing_step("Structural", "Cutting")
        self.resources = {name: f"L{index}" for index, name in enumerate(self.objects)}

    def _add(self, name: str) -> Any:
        import pikepdf

        group = pikepdf.Dictionary(Type=pikepdf.Name.OCG, Name=pikepdf.String(name))
        self.objects[name] = self._pdf.make_indirect(group)
        return self.objects[name]

    def properties(self) -> Any:
        """The catalogue's OCProperties: all layers shown, listed with the topmost first."""
        import pikepdf

        tops = [name for name in (CUT, PARTIAL_CUT, LETTERING) if name in self.objects]
        order = [self.objects[name] for name in tops]
        for ids, sticker in reversed(list(zip(self._layers.stickers, self._sheet.stickers, strict=True))):
            inner = [self.objects[name] for name in reversed(_parts(ids, sticker))]
            order += [self.objects[ids.sticker], pikepdf.Array(inner)]
        order += [self.objects[name] for name in (BACKGROUND, WHITE) if name in self.objects]
        shown = pikepdf.Dictionary(
            Name=pikepdf.String("Layers"), BaseState=pikepdf.Name.ON, Order=pikepdf.Array(order)
        )
        return pikepdf.Dictionary(OCGs=pikepdf.Array(list(self.objects.values())), D=shown)

    def wrap(self, name: str, content: Iterable[str]) -> list[str]:
        """Content that belongs to a layer."""
        return [f"/OC /{self.resources[name]} BDC", *content, "EMC"]


def _parts(ids: StickerLayers, sticker: PlacedSticker) -> list[str]:
    """Layers inside that of a sticker, bottom to top."""
    return [*([] if sticker.ground is None else [ids.ground]), ids.fills, ids.lines]


def _processing_step(group: str, kind: str | None = None) -> Any:
    """What marks a layer as a step of production: the words of ISO 19593-1.

    Those of cutting are in the PDF Association's machine-readable model; that the group White has no types is
    as public descriptions of the Ghent Workgroup's test suite for that standard have it.
    """
    import pikepdf

    step = pikepdf.Dictionary(GTS_ProcStepsGroup=pikepdf.Name("/" + group))
    if kind is not None:
        step.GTS_ProcStepsType = pikepdf.Name("/" + kind)
    return step


# Content --------------------------------------------------------------------------------------------------


def _content(sheet: Sheet, layers: SheetLayers, groups: _Groups) -> bytes:
    height = sheet.page.height_mm
    parts = [] if sheet.white is None else groups.wrap(WHITE, _white(sheet.white, height))
    parts += groups.wrap(BACKGROUND, _background(sheet))
    for sticker, ids in zip(sheet.stickers, layers.stickers, strict=True):
        ground = []
        if sticker.ground is not None:
            ground = groups.wrap(ids.ground, _shapes([sticker.ground], height, overprint_black=False))
        fills = groups.wrap(ids.fills, _shapes(sticker.fills, height, overprint_black=False))
        lines = groups.wrap(ids.lines, _shapes(sticker.lines, height, overprint_black=True))
        parts += groups.wrap(ids.sticker, [*ground, *fills, *lines])
    parts += groups.wrap(LETTERING, _letterings(sheet))
    if sheet.partial is not None:
        parts += groups.wrap(PARTIAL_CUT, _cuts(sheet, sheet.cut_at("partial"), "PartialCut"))
    parts += groups.wrap(CUT, _cuts(sheet, sheet.cut_at("through"), "Cut"))
    return "\n".join([*parts, ""]).encode("ascii")


def _background(sheet: Sheet) -> list[str]:
    if sheet.background is None:
        return []
    width, height = (_number(side * _PT_PER_MM) for side in (sheet.page.width_mm, sheet.page.height_mm))
    return ["q", "/Knock gs", _ink(sheet.background), f"0 0 {width} {height} re f", "Q"]


def _white(white: White, height_mm: float) -> list[str]:
    if not white.paths:
        return []
    return ["q", "/Knock gs", "/White cs 1 scn", _path_data(white.paths, height_mm), "f*", "Q"]


def _shapes(shapes: Sequence[ColouredShape], height_mm: float, *, overprint_black: bool) -> list[str]:
    parts = []
    for item in shapes:
        overprint = overprint_black and is_black(item.colour)
        parts += ["q", f"/{'Over' if overprint else 'Knock'} gs", _ink(item.colour)]
        parts += [_path_data(item.shape.paths, height_mm), "f*", "Q"]
    return parts


def _letterings(sheet: Sheet) -> list[str]:
    parts = []
    for piece in sheet.letterings:
        parts += ["q", f"/{'Over' if is_black(piece.colour) else 'Knock'} gs", _ink(piece.colour)]
        for glyph in piece.glyphs:
            if glyph.paths:
                parts += [_path_data(glyph.paths, sheet.page.height_mm), "f"]
        parts.append("Q")
    return parts


def _cuts(sheet: Sheet, stickers: Iterable[PlacedSticker], space: str) -> list[str]:
    width = _number(sheet.hairline_mm * _PT_PER_MM)
    parts = ["q", "/Over gs", f"/{space} CS 1 SCN", f"{width} w 1 j 1 J"]
    for sticker in stickers:
        parts += [_path_data([sticker.cut.path], sheet.page.height_mm), "S"]
    return [*parts, "Q"]


def is_black(colour: PressColour) -> bool:
    """Whether a colour is full black of one ink, which overprints in lines and lettering."""
    return colour.cmyk == (0.0, 0.0, 0.0, 100.0)


def _ink(colour: PressColour) -> str:
    return " ".join(_number(ink / 100.0) for ink in colour.cmyk) + " k"


def _number(value: float) -> str:
    text = f"{value:.{_PT_DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _path_data(paths: Iterable[CubicPath], height_mm: float) -> str:
    """Path operators of closed paths, in points, y upwards."""
    parts = []
    for path in paths:
        points = np.round(path.segments, _MM_DECIMALS)
        points[..., 1] = height_mm - points[..., 1]
        text = [_number(value) for value in (points * _PT_PER_MM).reshape(-1).tolist()]
        parts.append(f"{text[0]} {text[1]} m")
        for index, straight in enumerate(path.straight.tolist()):
            x1, y1, x2, y2, x3, y3 = text[8 * index + 2 : 8 * index + 8]
            parts.append(f"{x3} {y3} l" if straight else f"{x1} {y1} {x2} {y2} {x3} {y3} c")
        parts.append("h")
    return "\n".join(parts)


# Objects --------------------------------------------------------------------------------------------------


def _stream(pdf: Any, data: bytes, **keys: Any) -> Any:
    """A compressed stream."""
    import pikepdf

    return pdf.make_indirect(
        pikepdf.Stream(pdf, zlib.compress(data, 9), Filter=pikepdf.Name.FlateDecode, **keys)
    )


def _resources(pdf: Any, sheet: Sheet, groups: _Groups) -> Any:
    import pikepdf

    over = pikepdf.Dictionary(Type=pikepdf.Name.ExtGState, OP=True, op=True, OPM=1)
    # Over white ink, art replaces all process inks and leaves the white: overprinting in mode 0 (ISO 32000-1,
    # 8.6.7), where a colour of no ink is not left out as it is in mode 1.
    above_white = sheet.white is not None
    knock = pikepdf.Dictionary(
        Type=pikepdf.Name.ExtGState, OP=above_white, op=above_white, OPM=0 if above_white else 1
    )
    layers = {f"/{name}": groups.objects[layer] for layer, name in groups.resources.items()}
    return pikepdf.Dictionary(
        ColorSpace=pikepdf.Dictionary(
            {f"/{name}": _separation(pdf, colour) for name, colour in _separations(sheet).items()}
        ),
        ExtGState=pikepdf.Dictionary(Over=pdf.make_indirect(over), Knock=pdf.make_indirect(knock)),
        Properties=pikepdf.Dictionary(layers),
    )


def _separation(pdf: Any, colour: PressColour) -> Any:
    """A Separation colour space with its DeviceCMYK alternate."""
    import pikepdf

    tint = pikepdf.Dictionary(
        FunctionType=2,
        Domain=[0, 1],
        C0=[0, 0, 0, 0],
        C1=[_decimal(ink / 100.0) for ink in colour.cmyk],
        N=1,
    )
    name = pikepdf.Name("/" + colour.name)
    return pdf.make_indirect(
        pikepdf.Array([pikepdf.Name.Separation, name, pikepdf.Name.DeviceCMYK, pdf.make_indirect(tint)])
    )


def _decimal(value: float) -> Any:
    from decimal import Decimal

    return Decimal(_number(value))


def _set_boxes(page: Any, sheet: Sheet) -> None:
    import pikepdf

    def box(x0: float, y0: float, x1: float, y1: float) -> Any:
        return pikepdf.Array([_decimal(side * _PT_PER_MM) for side in (x0, y0, x1, y1)])

    width, height = sheet.page.width_mm, sheet.page.height_mm
    x0, y0, x1, y1 = sheet.page.trim_box
    page.MediaBox = box(0.0, 0.0, width, height)
    page.BleedBox = box(0.0, 0.0, width, height)
    page.TrimBox = box(x0, height - y1, x1, height - y0)


def _output_intent(pdf: Any, sheet: Sheet, profile: bytes) -> Any:
    import pikepdf

    name = sheet.profile_name or "Custom"
    return pikepdf.Dictionary(
        Type=pikepdf.Name.OutputIntent,
        S=pikepdf.Name.GTS_PDFX,
        OutputConditionIdentifier=pikepdf.String(name),
        Info=pikepdf.String(name),
        DestOutputProfile=_stream(pdf, profile, N=4),
    )


# Metadata -------------------------------------------------------------------------------------------------


def _describe(pdf: Any, sheet: Sheet, content: bytes) -> None:
    """Title, dates and PDF/X keys, in the information dictionary and, saying the same, as XMP."""
    import pikepdf

    when = _date()
    title = plain_text(sheet.name) or "sheet"
    stamp = pikepdf.String(when.strftime("D:%Y%m%d%H%M%SZ"))
    info = pikepdf.Dictionary(
        Title=pikepdf.String(title),
        Creator=pikepdf.String(_PRODUCER),
        Producer=pikepdf.String(_PRODUCER),
        CreationDate=stamp,
        ModDate=stamp,
        Trapped=pikepdf.Name("/False"),
    )
    if sheet.profile is not None:
        info.GTS_PDFXVersion = pikepdf.String("PDF/X-4")
    pdf.trailer.Info = pdf.make_indirect(info)
    digest = hashlib.sha256(content + (sheet.profile or b"") + title.encode()).hexdigest()
    xmp = _xmp(title, when, digest, is_x4=sheet.profile is not None)
    stream = pikepdf.Stream(pdf, xmp, Type=pikepdf.Name.Metadata, Subtype=pikepdf.Name.XML)
    pdf.Root.Metadata = pdf.make_indirect(stream)


def _date() -> datetime:
    try:
        return datetime.fromtimestamp(int(os.environ.get("SOURCE_DATE_EPOCH", _EPOCH)), UTC)
    except (ValueError, OverflowError, OSError):
        return datetime.fromtimestamp(_EPOCH, UTC)


def _xmp(title: str, when: datetime, digest: str, *, is_x4: bool) -> bytes:
    uuid = "-".join([digest[:8], digest[8:12], digest[12:16], digest[16:20], digest[20:32]])
    stamp = when.strftime("%Y-%m-%dT%H:%M:%SZ")
    version = "\n   <pdfxid:GTS_PDFXVersion>PDF/X-4</pdfxid:GTS_PDFXVersion>" if is_x4 else ""
    return f"""<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
 <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
  <rdf:Description rdf:about=""
    xmlns:dc="http://purl.org/dc/elements/1.1/"
    xmlns:pdf="http://ns.adobe.com/pdf/1.3/"
    xmlns:pdfxid="http://www.npes.org/pdfx/ns/id/"
    xmlns:xmp="http://ns.adobe.com/xap/1.0/"
    xmlns:xmpMM="http://ns.adobe.com/xap/1.0/mm/">
   <dc:format>application/pdf</dc:format>
   <dc:title><rdf:Alt><rdf:li xml:lang="x-default">{escape(title)}</rdf:li></rdf:Alt></dc:title>
   <pdf:Producer>{_PRODUCER}</pdf:Producer>
   <pdf:Trapped>False</pdf:Trapped>{version}
   <xmp:CreatorTool>{_PRODUCER}</xmp:CreatorTool>
   <xmp:CreateDate>{stamp}</xmp:CreateDate>
   <xmp:ModifyDate>{stamp}</xmp:ModifyDate>
   <xmp:MetadataDate>{stamp}</xmp:MetadataDate>
   <xmpMM:DocumentID>uuid:{uuid}</xmpMM:DocumentID>
   <xmpMM:VersionID>1</xmpMM:VersionID>
   <xmpMM:RenditionClass>default</xmpMM:RenditionClass>
  </rdf:Description>
 </rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>""".encode()

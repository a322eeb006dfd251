"""The files of one sheet, as bytes."""

import json
from collections.abc import Sequence
from concurrent.futures import Future
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress

from limner.model.finding import Finding
from limner.model.sheet import Sheet
from limner.output import sheet_proof
from limner.pipeline.processes.pool import Crew
from limner.pipeline.sheet.build import SheetResult
from limner.pipeline.sheet.names import SHEET_FILES, SINGLES_FOLDER

__all__ = ["sheet_files"]


def sheet_files(result: SheetResult, *, singles: bool = False, crew: Crew | None = None) -> dict[str, bytes]:
    """Make all files of a sheet.

    Parameters
    ----------
    result : SheetResult
        The sheet and its findings.
    singles : bool
        Whether each sticker is wanted by itself, too.
    crew : Crew or None
        Processes that are there already: one of them draws the proof meanwhile.

    Returns
    -------
    dict of str to bytes
        By the names in `SHEET_FILES`, in that order; then those of single stickers, in their folder.
    """
    sheet, findings = result.sheet, result.findings
    drawn = _begun(sheet, findings, crew)
    # Their libraries are loaded while the proof is drawn.
    from limner.output import sheet_pdf, sheet_report, sheet_svg, sheet_ticket

    svg, pdf = sheet_svg(sheet), sheet_pdf(sheet)
    report = json.dumps(sheet_report(sheet, findings), indent=2, ensure_ascii=False) + "\n"
    proof = _proof(sheet, findings, drawn)
    ticket = sheet_ticket(sheet, findings, proof)
    contents = (svg, pdf, proof, report.encode("utf-8"), ticket)
    return dict(zip(SHEET_FILES, contents, strict=True)) | (_singles(sheet) if singles else {})


def _singles(sheet: Sheet) -> dict[str, bytes]:
    from limner.output import sheet_singles

    return {f"{SINGLES_FOLDER}/{name}": data for name, data in sheet_singles(sheet).items()}


def _begun(sheet: Sheet, findings: Sequence[Finding], crew: Crew | None) -> Future[bytes] | None:
    if crew is None or crew.workers < 2:
        return None
    return crew.submit(sheet_proof, sheet, findings)


def _proof(sheet: Sheet, findings: Sequence[Finding], drawn: Future[bytes] | None) -> bytes:
    """As the other process drew it, or drawn here where that one died or there is none."""
    if drawn is not None:
        with suppress(BrokenProcessPool):
            return drawn.result()
    return sheet_proof(sheet, findings)

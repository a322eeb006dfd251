"""The files of one sheet, as bytes."""

import json

from limner.output.pdf import sheet_pdf
from limner.output.sheet_proof import sheet_proof
from limner.output.sheet_report import sheet_report
from limner.output.sheet_svg import sheet_svg
from limner.output.sheet_ticket import sheet_ticket
from limner.pipeline.sheet import SHEET_FILES, SheetResult

__all__ = ["sheet_files"]


def sheet_files(result: SheetResult) -> dict[str, bytes]:
    """Make all files of a sheet.

    Parameters
    ----------
    result : SheetResult
        The sheet and its findings.

    Returns
    -------
    dict of str to bytes
        By the names in `SHEET_FILES`, in that order.
    """
    sheet, findings = result.sheet, result.findings
    proof = sheet_proof(sheet, findings)
    report = json.dumps(sheet_report(sheet, findings), indent=2, ensure_ascii=False) + "\n"
    ticket = sheet_ticket(sheet, findings, proof)
    contents = (sheet_svg(sheet), sheet_pdf(sheet), proof, report.encode("utf-8"), ticket)
    return dict(zip(SHEET_FILES, contents, strict=True))

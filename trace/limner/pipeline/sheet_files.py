"""The files of one sheet, as bytes."""

import json

from limner.output.pdf import sheet_pdf
from limner.output.sheet_proof import sheet_proof
from limner.output.sheet_report import sheet_report
from limner.output.sheet_svg import sheet_svg
from limner.output.sheet_ticket import sheet_ticket
from limner.pipeline.sheet import SheetResult

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
        By the names of the files, in the order in which they are listed.
    """
    sheet, findings = result.sheet, result.findings
    proof = sheet_proof(sheet, findings)
    report = json.dumps(sheet_report(sheet, findings), indent=2, ensure_ascii=False) + "\n"
    return {
        "sheet.svg": sheet_svg(sheet),
        "sheet.pdf": sheet_pdf(sheet),
        "proof.png": proof,
        "report.json": report.encode("utf-8"),
        "report.html": sheet_ticket(sheet, findings, proof),
    }

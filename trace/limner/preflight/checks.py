"""Preflight: everything that would spoil the print or the cut, found before the sheet goes out.

Each check is a small function from a `Survey` to findings, listed in `CHECKS`; a new one is written beside
its like and added to the list. Checks measure the sheet themselves and do not take a stage's word for it.
"""

from collections.abc import Callable, Iterable

import numpy as np

from limner.model.finding import Finding
from limner.model.sheet import Sheet
from limner.preflight import cutting, lettering, lines, overprint, printing
from limner.preflight.settings import PreflightSettings
from limner.preflight.survey.sheet import Survey

__all__ = ["CHECKS", "Check", "check_sheet"]

Check = Callable[[Survey], Iterable[Finding]]

CHECKS: tuple[Check, ...] = (
    cutting.check_anything_to_cut,
    cutting.check_cut_closed,
    cutting.check_art_inside_cut,
    cutting.check_cut_distance,
    cutting.check_cut_hollows,
    cutting.check_cut_necks,
    cutting.check_cut_gaps,
    cutting.check_stickers_on_sheet,
    cutting.check_letterings_on_sheet,
    cutting.check_lettering_cut,
    cutting.check_cut_nodes,
    cutting.check_separation_name,
    printing.check_page_size,
    printing.check_bleed,
    lines.check_lines,
    lines.check_line_inks,
    lines.check_line_tints,
    lines.check_lines_lost,
    lines.check_art_error,
    lettering.check_lettering_size,
    lettering.check_lettering_strokes,
    lettering.check_lettering_inks,
    lettering.check_lettering_reversed,
    lettering.check_lettering_contrast,
    lettering.check_lettering_near_cut,
    lettering.check_lettering_overlap,
    printing.check_total_ink,
    overprint.check_overprinted_ink,
    printing.check_tints,
    printing.check_colour_shift,
    printing.check_colours_converted,
    printing.check_sketch_resolution,
    printing.check_nodes,
)
"""Every check, in the order in which findings of one severity are listed."""

_RANK = {"error": 0, "warning": 1, "note": 2}


def check_sheet(
    sheet: Sheet,
    settings: PreflightSettings | None = None,
    *,
    checks: Iterable[Check] = CHECKS,
) -> tuple[Finding, ...]:
    """Check a sheet; never raises.

    Parameters
    ----------
    sheet : Sheet
        What is to be printed.
    settings : PreflightSettings, optional
        What it is held to.
    checks : iterable of Check
        Which checks to make.

    Returns
    -------
    tuple of Finding
        What the sheet already carries (`sheet.findings`) and what the checks find, each once; errors first,
        then warnings, then notes. A check that fails itself becomes a warning that says so.
    """
    survey = Survey(sheet, settings or PreflightSettings())
    findings = list(sheet.findings)
    for check in checks:
        findings += _run(check, survey)
    return tuple(sorted(dict.fromkeys(findings), key=lambda finding: _RANK.get(finding.severity, 0)))


def _run(check: Check, survey: Survey) -> list[Finding]:
    findings = []
    try:
        # Shapes that are shrunk to a point divide by zero inside GEOS, which answers rightly all the same.
        with np.errstate(all="ignore"):
            # One by one, so that what a check found before it failed is kept.
            for finding in check(survey):
                findings.append(finding)  # noqa: PERF402
    except Exception as error:
        name = getattr(check, "__name__", "unnamed").removeprefix("check_").replace("_", " ")
        text = (
            f'The check "{name}" could not be made ({type(error).__name__}: {error}); '
            "look at the sheet yourself and report this."
        )
        findings.append(Finding("warning", "check-failed", None, " ".join(text.split())))
    return findings

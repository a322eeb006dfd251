"""Names of the files of a sheet, and of the folders beside its job: nothing heavy is loaded to know them."""

__all__ = ["KEPT_FOLDER", "SHEET_FILES", "SINGLES_FOLDER"]

KEPT_FOLDER = ".limner-cache"
"""Name of the folder of kept results, beside the job file."""

SHEET_FILES = ("sheet.svg", "sheet.pdf", "proof.png", "report.json", "report.html")
"""Names of the files of every sheet, in the order in which they are listed."""

SINGLES_FOLDER = "singles"
"""Name of the folder of each sticker by itself, beside the files of the sheet."""

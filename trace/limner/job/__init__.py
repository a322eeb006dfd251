"""The job file: a sheet of stickers as its author writes it down.

`load_job` reads a whole job, `load_zones` the areas and zones of a single sketch. Whatever is wrong in
a file becomes one sentence that names the key and its line.
"""

from limner.job.load import Job, SketchTables, load_job, load_zones
from limner.job.tables import (
    AreaTable,
    CutOverrides,
    CutTable,
    JobTables,
    LetteringTable,
    MirrorTable,
    PrintTable,
    SheetTable,
    StickerTable,
    ZoneTable,
)
from limner.job.zones import zone_value

__all__ = [
    "AreaTable",
    "CutOverrides",
    "CutTable",
    "Job",
    "JobTables",
    "LetteringTable",
    "MirrorTable",
    "PrintTable",
    "SheetTable",
    "SketchTables",
    "StickerTable",
    "ZoneTable",
    "load_job",
    "load_zones",
    "zone_value",
]

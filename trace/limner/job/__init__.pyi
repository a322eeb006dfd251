from .layout import Block as Block
from .layout import KeyPath as KeyPath
from .layout import Layout as Layout
from .layout import Pair as Pair
from .layout import Value as Value
from .layout import layout_of as layout_of
from .likes import area_owners as area_owners
from .likes import copy_names as copy_names
from .likes import written_out as written_out
from .load import Job as Job
from .load import load_job as load_job
from .load import load_zones as load_zones
from .palette import job_palette as job_palette
from .palette import job_press as job_press
from .settings import cut_settings as cut_settings
from .settings import preflight_settings as preflight_settings
from .settings import sheet_settings as sheet_settings
from .settings import sticker_settings as sticker_settings
from .tables import AreaTable as AreaTable
from .tables import MirrorTable as MirrorTable
from .tables import RepeatTable as RepeatTable
from .tables import StickerTable as StickerTable
from .tables import TouchTable as TouchTable
from .tables import ZoneTable as ZoneTable
from .usable import Mistake as Mistake
from .usable import UsableJob as UsableJob
from .usable import read_usable as read_usable
from .zones import zone_value as zone_value

__all__ = [
    "AreaTable",
    "Block",
    "Job",
    "KeyPath",
    "Layout",
    "MirrorTable",
    "Mistake",
    "Pair",
    "RepeatTable",
    "StickerTable",
    "TouchTable",
    "UsableJob",
    "Value",
    "ZoneTable",
    "area_owners",
    "copy_names",
    "cut_settings",
    "job_palette",
    "job_press",
    "layout_of",
    "load_job",
    "load_zones",
    "preflight_settings",
    "read_usable",
    "sheet_settings",
    "sticker_settings",
    "written_out",
    "zone_value",
]

from .areas.build import Divided as Divided
from .areas.build import arrange_areas as arrange_areas
from .areas.build import build_regions as build_regions
from .areas.build import divide_page as divide_page
from .areas.build import label_areas as label_areas
from .areas.rules import without_looks as without_looks
from .centrelines.build import build_graph as build_graph
from .settings import AreaRule as AreaRule
from .settings import RegionSettings as RegionSettings

__all__ = [
    "AreaRule",
    "Divided",
    "RegionSettings",
    "arrange_areas",
    "build_graph",
    "build_regions",
    "divide_page",
    "label_areas",
    "without_looks",
]

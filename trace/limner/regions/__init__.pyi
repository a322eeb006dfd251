from .areas.build import build_regions as build_regions
from .areas.sketch_colours import SOLID as SOLID
from .centrelines.build import build_graph as build_graph
from .settings import AreaRule as AreaRule
from .settings import RegionSettings as RegionSettings

__all__ = [
    "SOLID",
    "AreaRule",
    "RegionSettings",
    "build_graph",
    "build_regions",
]

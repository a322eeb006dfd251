from .areas.build import build_regions as build_regions
from .centrelines.build import build_graph as build_graph
from .settings import AreaRule as AreaRule
from .settings import RegionSettings as RegionSettings

__all__ = [
    "AreaRule",
    "RegionSettings",
    "build_graph",
    "build_regions",
]

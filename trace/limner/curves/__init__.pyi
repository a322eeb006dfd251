from .drawing import draw_fitted as draw_fitted
from .drawing import fit_map as fit_map
from .fit.fitting import fit_path as fit_path
from .fit.kept import FitStore as FitStore
from .kernels import limit_threads as limit_threads
from .settings import CurveSettings as CurveSettings

__all__ = [
    "CurveSettings",
    "FitStore",
    "draw_fitted",
    "fit_map",
    "fit_path",
    "limit_threads",
]

from .drawing import trace_curves as trace_curves
from .fit.fitting import fit_path as fit_path
from .fit.fitting import fit_paths as fit_paths
from .fit.polylines import Fit as Fit
from .fit.polylines import Polyline as Polyline
from .kernels import limit_threads as limit_threads
from .settings import CurveSettings as CurveSettings

__all__ = [
    "CurveSettings",
    "Fit",
    "Polyline",
    "fit_path",
    "fit_paths",
    "limit_threads",
    "trace_curves",
]

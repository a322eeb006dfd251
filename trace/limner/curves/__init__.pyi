from .drawing import trace_curves as trace_curves
from .fit.fitting import fit_path as fit_path
from .kernels import limit_threads as limit_threads
from .settings import CurveSettings as CurveSettings

__all__ = [
    "CurveSettings",
    "fit_path",
    "limit_threads",
    "trace_curves",
]

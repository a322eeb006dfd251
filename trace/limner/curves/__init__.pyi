from .drawing import trace_curves as trace_curves
from .kernels import limit_threads as limit_threads
from .settings import CurveSettings as CurveSettings

__all__ = [
    "CurveSettings",
    "limit_threads",
    "trace_curves",
]

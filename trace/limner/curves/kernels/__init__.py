"""The loops of the curve fit, compiled where the machine that installed limner had a compiler.

`compiled` is the module, or None: each caller then does the same steps with NumPy. Both are held against each
other by the tests; their results differ by rounding, and by what rounding decides.
"""

try:
    from limner.curves.kernels import _compiled
except ImportError:
    compiled = None
else:
    compiled = _compiled

__all__ = ["compiled"]

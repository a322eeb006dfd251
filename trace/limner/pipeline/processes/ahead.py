"""Load the later stages while the first ones work.

Loading the modules of all stages takes longer than decoding a photograph of 12 megapixels. That, and much
of the stages' work, is done by compiled code, which leaves the interpreter free: a second thread loads
meanwhile.
"""

import sys
from contextlib import suppress
from importlib import import_module
from threading import Thread

__all__ = ["load_ahead"]

# What some thread loads, or has loaded.
_begun: set[str] = set()


def load_ahead(*modules: str) -> None:
    """Begin to import modules in a thread of their own; a later import of one waits for it.

    Parameters
    ----------
    *modules : str
        Full names, those needed first to the front. An import that fails is left for the one who needs it, so
        that the error appears there.
    """
    missing = [name for name in modules if name not in sys.modules and name not in _begun]
    _begun.update(missing)
    if missing:
        Thread(target=_load, args=(missing,), name="load ahead").start()


def _load(modules: list[str]) -> None:
    for name in modules:
        with suppress(ImportError):
            import_module(name)

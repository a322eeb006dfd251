"""A local page on which every decision about a job is made by hand and eye."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)

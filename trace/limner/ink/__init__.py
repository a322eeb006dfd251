"""From a flat page to the ink on it: what is pencil, and what is not."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)

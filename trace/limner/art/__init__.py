"""Vector art of the author's own, in place of a traced sketch."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)

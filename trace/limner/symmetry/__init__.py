"""Find the axis of a drawing and complete it about that axis."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)

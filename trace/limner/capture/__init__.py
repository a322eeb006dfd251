"""From a file to a flat page: decode, find the paper, straighten it, even out the light."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)

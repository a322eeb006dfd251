"""From ink to a planar map: centrelines, bridged gaps, areas and their order."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)

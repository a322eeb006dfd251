"""The job file: a sheet of stickers as its author writes it down.

`load_job` reads a whole job, `load_zones` the areas and zones of a single sketch. Whatever is wrong in
a file becomes one sentence that names the key and its line.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)

"""Turns photographed pencil sketches into closed, filled shapes and press-ready sticker sheets.

The names below are what a program needs; each is loaded when it is first asked for, so that importing the
package costs next to nothing. `trace` and `trace_many` make drawings of sketches, `trace_files` and
`sheet_files` make the bytes of files, `load_job` and `build_sheet` make a sheet of a job.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)

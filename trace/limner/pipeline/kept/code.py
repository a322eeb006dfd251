"""What kept results depend on beside what was asked for: limner's own code, and the libraries under it."""

import hashlib
from contextlib import suppress
from functools import cache
from importlib import metadata, resources
from pathlib import Path

from limner._version import __version__

__all__ = ["code_digest"]

# Sources, and what was compiled of them.
_CODE = (".py", ".so", ".pyd")

# What the numbers of a drawing depend on apart from limner's own code.
_LIBRARIES = ("numpy", "opencv-python", "pillow", "pillow-heif", "scipy", "shapely")


@cache
def code_digest() -> str:
    """Digest of limner's own code and of the libraries under it: a changed stage finds no old results."""
    digest = hashlib.sha256(__version__.encode())
    root = Path(str(resources.files("limner")))
    for path in sorted(path for path in root.rglob("*") if path.suffix in _CODE):
        content = path.read_bytes()
        digest.update(f"{path.relative_to(root).as_posix()}\0{len(content)}\0".encode())
        digest.update(content)
    for name in _LIBRARIES:
        with suppress(metadata.PackageNotFoundError):
            digest.update(f"{name} {metadata.version(name)}\n".encode())
    return digest.hexdigest()

"""Read a photograph or scan of a sketch from a file.

What cannot be used is refused with one sentence before memory is spent on it: the size stands in the
header. `limner.capture.decode` does the decoding, `limner.capture.samples` the rest.
"""

import stat
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, TypeVar

from limner.capture.decode import FORMATS, Decoded, UnknownFormatError, decode, open_header
from limner.errors import InputError, LimnerError

if TYPE_CHECKING:
    from PIL import Image

    from limner.model.raster import Photo

__all__ = [
    "MAX_PIXELS",
    "MIN_SIDE_PX",
    "Picture",
    "judged_header",
    "load_photo",
    "photo_of",
    "read_picture",
    "require_opencv",
    "shown",
]

Given = TypeVar("Given")
Made = TypeVar("Made")

# Below this no pencil line can be told from the grain of the paper.
MIN_SIDE_PX = 64

# Ten times a large phone's photograph; the decoded picture then takes 600 MB.
MAX_PIXELS = 200_000_000

# Scanners are set to between 75 and 4800 dots per inch; the lowest settings cannot be told from the
# defaults of screens, so counting starts above those.
_SCAN_DPI = (100.0, 4800.0)

# Densities that screens and cameras write by default, whatever the size of the thing pictured: 72 and
# 96 and their multiples for finer screens, and 180, which many cameras write.
_DEFAULT_DPI = (144.0, 180.0, 192.0, 216.0, 288.0)

# Files round to whole dots per metre or per inch.
_DPI_ROUNDING = 0.005

# EXIF tags (Exif 2.32, from memory): maker and model of the device; exposure time, aperture, speed,
# focal length, which only a camera has; and the source of the file, where 1 and 2 are scanners.
_DEVICE_TAGS = (0x010F, 0x0110)
_CAMERA_TAGS = (0x829A, 0x829D, 0x8827, 0x920A)
_FILE_SOURCE_TAG = 0xA300
_SCANNER_SOURCES = (b"\x01", b"\x02", 1, 2)

# Debian's packages that bring the system libraries which OpenCV asks for.
_DEBIAN_PACKAGES = {
    "libGL.so": "libgl1",
    "libglib-2.0.so": "libglib2.0-0",
    "libgthread-2.0.so": "libglib2.0-0",
    "libSM.so": "libsm6",
    "libXext.so": "libxext6",
    "libXrender.so": "libxrender1",
    "libX11.so": "libx11-6",
    "libxcb.so": "libxcb1",
    "libEGL.so": "libegl1",
}


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A decoded file.

    Parameters
    ----------
    decoded : Decoded
        What was in it.
    path : Path
        Where it lies.
    """

    decoded: Decoded
    path: Path


def load_photo(path: Path) -> "Photo":
    """Read a picture and turn it upright: `photo_of` what `read_picture` gives."""
    return photo_of(read_picture(path))


def read_picture(path: Path) -> Picture:
    """Read and decode a file.

    This loads none of the libraries for arrays, and hardly holds the interpreter.

    Parameters
    ----------
    path : Path
        JPEG, PNG, TIFF, WebP, HEIC, BMP or GIF, told by its content, not by its name.

    Returns
    -------
    Picture

    Raises
    ------
    InputError
        The file is missing, empty, cut short or no picture, is a folder or a device, cannot be read,
        or has under 64 pixels on a side or over 200 million in all.
    """
    name = shown(path)
    try:
        _refuse_what_is_no_file(path, name)
        with path.open("rb") as stream:
            return Picture(_decode(stream, name), path)
    except (OSError, ValueError) as error:
        raise InputError(_why_not_opened(error, name)) from error


def photo_of(picture: Picture) -> "Photo":
    """Turn a decoded file upright.

    Parameters
    ----------
    picture : Picture
        As read.

    Returns
    -------
    Photo
        sRGB, alpha over white. `dpi` is given only where it is one that a scanner writes: the same
        both ways, between 100 and 4800, not a default of screens (72, 96 and their multiples) or
        cameras (180), and not beside the notes of a camera.

    Raises
    ------
    InputError
        The picture is damaged, or does not fit into memory.
    """
    from limner.capture.samples import upright_rgb
    from limner.model.raster import Photo

    rgb = _guarded(upright_rgb, picture.decoded, shown(picture.path))
    rgb.flags.writeable = False  # spares a copy of the whole picture
    return Photo(rgb, _scan_dpi(picture.decoded), shown(picture.path.name))


def shown(name: object) -> str:
    """A file's name on one line and in printable characters, for a message."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in str(name))


def require_opencv() -> None:
    """Make sure that OpenCV can be imported, before anything that needs it is.

    Raises
    ------
    LimnerError
        It cannot; the message names the Debian package that brings the missing system library.
    """
    try:
        import_module("cv2")
    except ImportError as error:
        raise LimnerError(_why_no_opencv(str(error))) from error


def _why_no_opencv(reason: str) -> str:
    for library, package in _DEBIAN_PACKAGES.items():
        if library in reason:
            return (
                f"OpenCV cannot find the system library {library}: on Debian or Ubuntu "
                f'install it with "apt-get install {package}", then run limner again.'
            )
    return (
        f"OpenCV cannot be loaded ({shown(reason)}): install opencv-python again, "
        "and the system library that it asks for."
    )


def _refuse_what_is_no_file(path: Path, name: str) -> None:
    status = path.stat()
    if stat.S_ISDIR(status.st_mode):
        raise InputError(f'"{name}" is a folder: name a picture file in it.')
    if not stat.S_ISREG(status.st_mode):
        raise InputError(f'"{name}" is a pipe or device, not a file: save the picture as a file first.')
    if status.st_size == 0:
        raise InputError(f'"{name}" is empty: copy or photograph the sketch again.')


def _why_not_opened(error: Exception, name: str) -> str:
    if isinstance(error, FileNotFoundError | NotADirectoryError):
        return f'"{name}" was not found: check the name and the folder.'
    if isinstance(error, PermissionError):
        return f'"{name}" may not be read: give yourself the right to read it.'
    reason = getattr(error, "strerror", None) or str(error)
    return f'"{name}" cannot be opened ({shown(reason)}): check the name and the folder.'


def _decode(stream: BinaryIO, name: str) -> Decoded:
    """Decode an open file."""
    return _guarded(decode, judged_header(stream, name), name)


def judged_header(stream: BinaryIO, name: str) -> "Image.Image":
    """Read the header of a picture and judge its size, before a single pixel is decoded.

    Parameters
    ----------
    stream : file of bytes
        From its beginning.
    name : str
        What messages call it.

    Returns
    -------
    Image
        Not decoded yet.

    Raises
    ------
    InputError
        It is none, is damaged, or has under 64 pixels on a side or over 200 million in all.
    """
    try:
        image = open_header(stream)
    except UnknownFormatError as error:
        if name.lower().endswith(".toml"):
            raise InputError(
                f'"{name}" is a job, not a sketch: limner sheet makes the sheet of a job.'
            ) from error
        raise InputError(f'"{name}" is not a picture that can be read: save it as {FORMATS}.') from error
    except Exception as error:  # decoders raise nearly anything on broken headers
        raise InputError(_damaged(name)) from error
    _refuse_size(image.size, name)
    return image


def _guarded(make: Callable[[Given], Made], of: Given, name: str) -> Made:
    """What a decoder makes of something; every way in which it can fail becomes one sentence."""
    try:
        return make(of)
    except MemoryError as error:
        raise InputError(f'"{name}" does not fit into memory: make the picture smaller.') from error
    except Exception as error:  # likewise on broken data
        raise InputError(_damaged(name)) from error


def _damaged(name: str) -> str:
    return f'"{name}" is damaged or cut short: copy it again from where it came from.'


def _refuse_size(size: tuple[int, int], name: str) -> None:
    width, height = size
    if min(width, height) < MIN_SIDE_PX:
        raise InputError(
            f'"{name}" is too small ({width} x {height} pixels): '
            f"a picture of at least {MIN_SIDE_PX} pixels on each side is needed."
        )
    if width * height > MAX_PIXELS:
        raise InputError(
            f'"{name}" is too large ({width} x {height} pixels): '
            f"make it smaller, to at most {MAX_PIXELS // 1_000_000} million pixels."
        )


def _scan_dpi(decoded: Decoded) -> float | None:
    """Resolution that the file states, where it is one that a scanner writes."""
    stated = _stated_dpi(decoded.info)
    if stated is None or _by_camera(decoded):
        return None
    low, high = _SCAN_DPI
    is_default = any(abs(stated / default - 1.0) <= _DPI_ROUNDING for default in _DEFAULT_DPI)
    return stated if low <= stated <= high and not is_default else None


def _stated_dpi(info: Mapping[Any, Any]) -> float | None:
    """Dots per inch that the file states, where they are the same both ways."""
    try:
        across, down = (float(value) for value in info["dpi"])
        if not abs(across / down - 1.0) <= _DPI_ROUNDING:
            return None
    except (KeyError, TypeError, ValueError, ArithmeticError):
        return None
    nearest = round(across)
    # Whole dots per metre come back as 299.9994 for 300.
    return float(nearest) if abs(across - nearest) <= 1e-4 * across else across


def _by_camera(decoded: Decoded) -> bool:
    """Whether the file's notes say that a camera took the picture."""
    tags = decoded.tags
    if tags.get(_FILE_SOURCE_TAG) in _SCANNER_SOURCES:
        return False
    if decoded.kind in ("HEIF", "MPO") or any(tag in tags for tag in _CAMERA_TAGS):
        return True
    # A scanner notes its maker in a TIFF; in any other format the note is a camera's.
    return decoded.kind != "TIFF" and any(tag in tags for tag in _DEVICE_TAGS)

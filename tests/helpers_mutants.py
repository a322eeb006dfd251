"""Small damaged pictures, and a process that traces them one after the other."""

import contextlib
import io
import os
import re
import resource
from multiprocessing.connection import Connection
from pathlib import Path
from tempfile import TemporaryDirectory
from xml.etree import ElementTree

import numpy as np
import pillow_heif
from PIL import Image

from helpers_sketches import ring_pixels
from limner.cli.main import main

SIZE_PX = 72

# The fitting of curves has tests of its own: coarse shapes leave time for more mutants.
QUICK = ("--lines", "none", "--smoothing", "3")


def picture(kind: str) -> bytes:
    stream = io.BytesIO()
    image = Image.fromarray(ring_pixels(SIZE_PX, line_px=3.0)).convert("RGB")
    if kind == "HEIF":
        pillow_heif.from_pillow(image).save(stream, quality=70)
    else:
        image.save(stream, kind, **({"compression": "tiff_lzw"} if kind == "TIFF" else {}))
    return stream.getvalue()


def mutant(data: bytes, number: int) -> bytes:
    """The mutant of that number."""
    rng = np.random.default_rng(number)
    changed = bytearray(data)
    for _ in range(int(rng.integers(1, 6))):
        # Two thirds of the changes hit the header.
        end = min(64, len(changed)) if rng.random() < 2 / 3 else len(changed)
        at = int(rng.integers(0, max(end, 1)))
        length = int(rng.integers(1, 9))
        match int(rng.integers(0, 5)):
            case 0:
                changed[at : at + 1] = bytes([int(rng.integers(0, 256))])
            case 1:
                changed[at : at + length] = bytes([int(rng.choice([0, 1, 0x7F, 0x80, 0xFF]))]) * length
            case 2:
                changed[at:at] = changed[at : at + length]
            case 3:
                del changed[at : at + length]
            case 4:
                del changed[max(16, int(rng.integers(0, len(changed) + 1))) :]
    return bytes(changed)


def attempt(folder: Path, data: bytes) -> str:
    """Trace the data; what is wrong with the outcome, or nothing."""
    sketch, shapes = folder / "mutant", folder / "mutant.svg"
    sketch.write_bytes(data)
    output, errors = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(output), contextlib.redirect_stderr(errors):
        code = main(["trace", str(sketch), "-o", str(shapes), *QUICK])
    left = sorted(path.name for path in folder.iterdir())
    if sketch.read_bytes() != data:
        return "the sketch was changed"
    if code == 0:
        ElementTree.parse(shapes)
        shapes.unlink()
        return "" if left == ["mutant", "mutant.svg"] else f"left {left}"
    sentence = errors.getvalue().strip().splitlines()[-1]
    if code != 2 or left != ["mutant"] or output.getvalue():
        return f"code {code}, left {left}, printed {output.getvalue()!r}"
    if not re.fullmatch(r"limner: .*\.", sentence) or "fault" in sentence:
        return sentence
    return ""


def work(kind: str, numbers: range, pipe: Connection) -> None:
    """Tell the number before each mutant, what was wrong after it, and the largest memory at the end."""
    data = picture(kind)
    # What libraries write past Python must not fill the pipe of the tests.
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
    with TemporaryDirectory() as folder:
        for number in numbers:
            try:
                problem = attempt(Path(folder), mutant(data, number))
            except BaseException as error:
                problem = f"{type(error).__name__}: {error}"
            pipe.send((number, problem))
    pipe.send((None, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024))

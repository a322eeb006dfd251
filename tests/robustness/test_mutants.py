"""Damaged pictures of every format through the whole command: never a fault, never a hang, never half a file.

Each mutant is a small picture with some bytes changed, doubled, lost or cut off, mostly near the beginning,
where the sizes stand. 2,000 of them run by default; `LIMNER_MUTANTS=50000 pytest tests/robustness` runs
more, `LIMNER_MUTANTS_FROM=2000` begins with another one. The mutant of a number is always the same.
"""

import contextlib
import io
import multiprocessing
import os
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from helpers_mutants import QUICK, mutant, picture, work
from limner.cli.main import main

COUNT = int(os.environ.get("LIMNER_MUTANTS", "2000"))
FIRST = int(os.environ.get("LIMNER_MUTANTS_FROM", "0"))

# Formats whose mutants mostly live take long for each; those with checks of their own die at once.
SHARES = {"JPEG": 0.06, "PNG": 0.34, "TIFF": 0.34, "WEBP": 0.12, "HEIF": 0.08, "BMP": 0.03, "GIF": 0.03}

# A whole trace of such a picture takes under a second; the rest is for machines that others use.
MOST_SECONDS = 30.0

# The interpreter with all libraries takes about 250 MB; a picture of under 200 million pixels that a changed
# header promises may be decoded, at three bytes a pixel and some copies.
MOST_MB = 3000


@pytest.mark.skipif(sys.platform == "win32", reason="memory is measured by POSIX's means")
@pytest.mark.parametrize("kind", SHARES)
def test_no_mutant_breaks_out(kind: str) -> None:
    share = max(1, round(COUNT * SHARES[kind]))
    numbers = range(FIRST, FIRST + share)
    # A process of its own can be stopped while it hangs in a library.
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=work, args=(kind, numbers, theirs), daemon=True)
    process.start()
    theirs.close()
    done, problems, peak_mb = 0, {}, 0.0
    try:
        while peak_mb == 0:
            assert ours.poll(MOST_SECONDS), f"{kind} mutant {FIRST + done} hangs"
            try:
                number, said = ours.recv()
            except EOFError:
                pytest.fail(f"{kind} mutant {FIRST + done} ended the process")
            if number is None:
                peak_mb = said
            else:
                done += 1
                if said:
                    problems[number] = said
    finally:
        process.kill()
        process.join()
    assert problems == {}
    assert done == share
    assert peak_mb < MOST_MB


def test_mutants_reach_every_stage() -> None:
    """A fuzz test whose mutants all die at once, or never, would show little."""
    kinds = {kind: [mutant(picture(kind), number) for number in range(40)] for kind in ("PNG", "BMP")}
    for kind, mutants in kinds.items():
        assert len(set(mutants)) > 30
        assert picture(kind) not in mutants[:5]
    with TemporaryDirectory() as folder:
        traced = 0
        for data in kinds["BMP"]:
            sketch = Path(folder) / "mutant"
            sketch.write_bytes(data)
            with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
                traced += main(["trace", str(sketch), "-o", str(Path(folder) / "a.svg"), *QUICK]) == 0
    assert 0 < traced < 40

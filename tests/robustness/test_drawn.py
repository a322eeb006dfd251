"""Random drawings of every kind through the whole trace: never a fault, never for long, always as promised.

Where `test_mutants` damages files, here the files are sound and the drawings are not what anybody foresaw:
dots, meshes, fur, scribbles, blots, at every depth of colour and at odd sizes. Sixty small ones run here;
`LIMNER_DRAWINGS=4000 pytest tests/robustness/test_drawn.py` runs more and larger ones,
`LIMNER_DRAWINGS_FROM=4000` begins with another one. The drawing of a number and a size is always the same.
"""

import multiprocessing
import os
from collections.abc import Iterator

from drawn import FORMATS, KINDS, MOST_PX, drawing_file
from drawn_traces import MOST_SECONDS, settings_of, work

ASKED = os.environ.get("LIMNER_DRAWINGS")
COUNT = 60 if ASKED is None else int(ASKED)
LARGEST_PX = 260 if ASKED is None else MOST_PX
FIRST = int(os.environ.get("LIMNER_DRAWINGS_FROM", "0"))

# A drawing may take its time by a processor's clock; by the wall's clock a machine that others use is slower.
LONGEST_WAIT_S = 9 * MOST_SECONDS


def outcomes(numbers: range) -> Iterator[tuple[int, str, str]]:
    """Number, what was wrong and what was said of each drawing; one that hangs is stopped and passed over."""
    context = multiprocessing.get_context("spawn")
    while numbers:
        ours, theirs = context.Pipe()
        process = context.Process(target=work, args=(numbers, LARGEST_PX, theirs), daemon=True)
        process.start()
        theirs.close()
        try:
            while numbers:
                outcome = _next(ours, numbers[0])
                numbers = numbers[1:]
                yield outcome
                if outcome[1].endswith("process"):
                    break
        finally:
            process.kill()
            process.join()


def _next(pipe, number: int) -> tuple[int, str, str]:
    if not pipe.poll(LONGEST_WAIT_S):
        return number, f"{drawing_file(number, LARGEST_PX)[1]}: hangs in its process", ""
    try:
        return pipe.recv()
    except EOFError:
        return number, f"{drawing_file(number, LARGEST_PX)[1]}: ended its process", ""


def test_no_drawing_breaks_out() -> None:
    found = list(outcomes(range(FIRST, FIRST + COUNT)))
    assert [number for number, _, _ in found] == list(range(FIRST, FIRST + COUNT))
    assert {number: wrong for number, wrong, _ in found if wrong} == {}
    # Most are drawings that anybody would take for one; some are as good as blank, or ask for too few nodes.
    traced = [number for number, _, said in found if not said]
    assert len(traced) > 0.6 * COUNT


def test_the_drawings_are_of_every_kind() -> None:
    whats = [drawing_file(number, LARGEST_PX)[1] for number in range(60)]
    assert len(set(whats)) == 60
    for kind in KINDS:
        assert sum(what.startswith(kind.__name__.strip("_").replace("_", " ")) for what in whats) >= 3
    assert {what.rsplit(", ", 1)[1] for what in whats} == set(FORMATS)
    assert drawing_file(7) == drawing_file(7)
    assert len({repr(settings_of(number)) for number in range(70)}) == 8

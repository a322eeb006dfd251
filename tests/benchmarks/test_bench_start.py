"""How soon the command answers."""

import resource
import subprocess
import sys


def cpu_s(*arguments: str) -> float:
    """Least CPU time of some runs."""
    best = float("inf")
    for _ in range(12):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *arguments], stdout=subprocess.DEVNULL, check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        best = min(best, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return best


def test_help_answers_at_once() -> None:
    # The project's aim is 2.5 times an interpreter that does nothing, on a machine that does nothing else; a
    # fifth more for machines that others use.
    assert cpu_s("-m", "limner", "--help") <= 1.2 * 2.5 * cpu_s("-c", "pass")

"""Modules that are loaded behind the scenes."""

import subprocess
import sys

# A process of its own: which modules are loaded is a matter of the whole process.
_ASK = """
import sys, threading
from limner.pipeline.processes.ahead import load_ahead
load_ahead({names})
for thread in threading.enumerate():
    if thread is not threading.current_thread():
        thread.join()
print("colorsys" in sys.modules, "wave" in sys.modules)
"""


def loaded(names: str) -> str:
    return subprocess.run(
        [sys.executable, "-W", "error", "-c", _ASK.format(names=names)],
        capture_output=True,
        text=True,
        check=True,
    ).stdout.strip()


def test_modules_are_loaded_without_being_asked_for() -> None:
    assert loaded('"colorsys", "wave"') == "True True"
    assert loaded('"sys"') == "False False"


def test_a_module_that_is_not_there_is_left_for_the_one_who_needs_it() -> None:
    assert loaded('"colorsys", "limner.no_such_part", "wave"') == "True True"

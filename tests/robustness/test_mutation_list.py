"""The list of mistakes keeps up with the code."""

import importlib.util
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
SPEC = importlib.util.spec_from_file_location("mutation", HERE / "mutation.py")
mutation = importlib.util.module_from_spec(SPEC)
# Its dataclasses look for the module by name.
with pytest.MonkeyPatch.context() as patch:
    patch.setitem(sys.modules, "mutation", mutation)
    SPEC.loader.exec_module(mutation)


@pytest.mark.parametrize("mutant", mutation.MUTANTS, ids=lambda mutant: f"{mutant.path}: {mutant.right[:40]}")
def test_what_is_to_be_mistaken_is_there(mutant):
    assert mutant.right in (HERE.parents[1] / "trace" / "limner" / mutant.path).read_text(encoding="utf-8")
    assert mutant.wrong != mutant.right
    assert all((HERE.parent / name).exists() for name in mutation.TESTS[mutant.part])

"""The list of mistakes keeps up with the code."""

from pathlib import Path

import pytest

from mutation import MUTANTS, TESTS

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: f"{mutant.path}: {mutant.right[:40]}")
def test_what_is_to_be_mistaken_is_there(mutant):
    assert mutant.right in (ROOT / "trace" / "limner" / mutant.path).read_text(encoding="utf-8")
    assert mutant.wrong != mutant.right
    assert all((ROOT / "tests" / name).exists() for name in TESTS[mutant.part])

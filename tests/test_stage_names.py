"""What a stage lets others use is what others use: no more, and nothing past it."""

import ast
from collections import defaultdict
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "trace" / "limner"
STAGES = sorted(path.parent.name for path in PACKAGE.glob("*/__init__.pyi"))


def imports_of(source: Path) -> list[tuple[str, str]]:
    """Module and name of each `from ... import ...` in a file, wherever it stands."""
    return [
        (node.module or "", alias.name)
        for node in ast.walk(ast.parse(source.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and node.level == 0
        for alias in node.names
    ]


@cache
def used() -> dict[str, set[str]]:
    """For each stage, the names that other parts of the package import from it."""
    found: dict[str, set[str]] = defaultdict(set)
    for source in PACKAGE.rglob("*.py"):
        for module, name in imports_of(source):
            stage = module.removeprefix("limner.")
            if stage in STAGES and PACKAGE / stage not in source.parents:
                found[stage].add(name)
    return found


def declared(stage: str) -> tuple[set[str], set[str]]:
    """Names that the stub of a stage imports, and those that it lists."""
    tree = ast.parse((PACKAGE / stage / "__init__.pyi").read_text(encoding="utf-8"))
    imported = {a.asname or a.name for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) for a in n.names}
    (listed,) = (node.value for node in tree.body if isinstance(node, ast.Assign))
    return imported, set(ast.literal_eval(listed))


@pytest.mark.parametrize("stage", STAGES)
def test_a_stage_offers_what_others_take(stage: str) -> None:
    imported, listed = declared(stage)
    assert imported == listed
    assert used()[stage] - listed == set(), "taken, though not offered"
    assert listed - used()[stage] == set(), "offered, though nobody takes it"

"""The shape of the package itself."""

import ast
import importlib
import pkgutil
import re
import sys
import trace as standard_library_trace
from pathlib import Path

import pytest

import limner

ROOT = Path(__file__).resolve().parents[1]
MODULES = sorted(module.name for module in pkgutil.walk_packages(limner.__path__, "limner."))


def test_source_root_does_not_shadow_the_standard_library() -> None:
    assert not (ROOT / "trace" / "__init__.py").exists()
    assert Path(standard_library_trace.__file__).parent == Path(ast.__file__).parent


def declared_names(source: Path) -> list[str]:
    """The `__all__` of the stub beside a module that loads its names when asked for; it lists them anew."""
    stub = source.with_suffix(".pyi")
    if source.name != "__init__.py" or not stub.exists():
        return []
    values = [
        node.value
        for node in ast.parse(stub.read_text()).body
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__"
    ]
    return list(ast.literal_eval(values[0]))


@pytest.mark.parametrize("name", [name for name in MODULES if not name.endswith("__main__")])
def test_public_names_are_sorted_and_exist(name: str) -> None:
    module = importlib.import_module(name)
    public = declared_names(Path(module.__file__)) or list(getattr(module, "__all__", []))
    # Constants, then classes, then functions, each in the order of the alphabet.
    assert public == sorted(public, key=lambda entry: (not entry.isupper(), not entry[0].isupper(), entry))
    assert [entry for entry in public if not hasattr(module, entry)] == []


def test_help_imports_nothing_heavy() -> None:
    import subprocess

    code = (
        "import sys\n"
        "from limner.cli.main import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        "heavy = {'numpy', 'cv2', 'scipy', 'rich', 'pydantic', 'PIL', 'shapely'} & set(sys.modules)\n"
        "assert not heavy, heavy\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr


def test_the_guide_lists_every_room() -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (`[^|]*/`) \|", guide, flags=re.MULTILINE)
    listed = {name for row in rows for name in re.findall(r"`([a-z_/]+)/`", row)}
    package = Path(limner.__file__).parent
    folders = {
        folder.relative_to(package).as_posix()
        for folder in package.rglob("*")
        if folder.is_dir() and folder.name != "__pycache__"
    }
    # Floors without a row of their own: the drawing above the table says what they are.
    assert listed == folders - {"cli", "demo", "geometry", "model", "pipeline"}

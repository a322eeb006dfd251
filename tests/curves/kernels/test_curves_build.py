"""The build hook: which compiler it takes, and what it asks for where there is none."""

import importlib.util
from pathlib import Path

import pytest

pytest.importorskip("hatchling")

HOOK = Path(__file__).parents[3] / ".ci" / "build_kernels.py"


@pytest.fixture
def hook(monkeypatch, tmp_path):
    """The hook on a machine without any compiler."""
    spec = importlib.util.spec_from_file_location("build_kernels", HOOK)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.delenv("CC", raising=False)
    return module


def asked_for(hook):
    return hook.KernelHook(str(HOOK.parents[1]), {}, None, None, "", "wheel").dependencies()


def compiler(folder, name, code):
    """A command that ends with a code, whatever it is asked."""
    path = folder / name
    path.write_text(f"#!/bin/sh\nexit {code}\n")
    path.chmod(0o755)
    return path


def test_where_there_is_no_compiler_the_build_asks_for_one(hook):
    assert hook.machine_compiler() == ()
    assert [name.split(">")[0] for name in asked_for(hook)] == ["ziglang"]


@pytest.mark.parametrize("name", ["cc", "gcc", "clang"])
def test_the_compiler_of_the_machine_is_taken(hook, tmp_path, name):
    compiler(tmp_path, name, 0)
    assert hook.machine_compiler()[0] == name
    assert asked_for(hook) == []


def test_one_that_only_asks_to_be_installed_is_none(hook, tmp_path):
    compiler(tmp_path, "cc", 1)
    assert hook.machine_compiler() == ()


def test_what_cc_names_comes_first(hook, tmp_path, monkeypatch):
    compiler(tmp_path, "gcc", 0)
    mine = compiler(tmp_path, "mine", 0)
    monkeypatch.setenv("CC", f"{mine} -m64")
    assert hook.machine_compiler() == (str(mine), "-m64")


def test_what_the_compiler_says_is_passed_on(hook, tmp_path):
    (tmp_path / "broken.c").write_text("int main(void) { return nothing; }")
    path = compiler(tmp_path, "cc", 0)
    path.write_text('#!/bin/sh\n[ "$1" = --version ] || { echo "nothing is undeclared" >&2; exit 1; }\n')
    with pytest.raises(RuntimeError, match=r"could not be compiled:\nnothing is undeclared"):
        hook.compile_kernels(tmp_path)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["broken.c", "cc"]

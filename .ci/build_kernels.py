"""Compile the loops of the curve fit when the package is built or installed.

The machine's compiler does it. Where there is none, the build asks for ``ziglang``, which is a C compiler as
a Python package, and has it installed for the time of the build. Both are told to compute alike, so that
limner draws the same lines whichever it was.
"""

import functools
import hashlib
import os
import platform
import shlex
import subprocess
import sys
import sysconfig
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

HERE = Path("trace/limner/curves/kernels")
# No contraction of products and sums, which would give other digits where a machine can do it; no trap on a
# root of a negative number, which lets loops be done several numbers at a time.
FLAGS = ("-std=c11", "-O3", "-g0", "-fPIC", "-ffp-contract=off", "-fno-math-errno", "-fno-trapping-math")
# What zig does otherwise: compile for the processor at hand alone, and stop at what C leaves undefined.
ZIG_FLAGS = ("-mcpu=baseline", "-fno-sanitize=undefined")
ZIG = "ziglang>=0.13"


class KernelHook(BuildHookInterface[Any]):
    """Adds the compiled module to the wheel, or lays it beside its sources for an editable install."""

    PLUGIN_NAME = "kernels"

    def dependencies(self) -> list[str]:
        """What the build needs besides its own requirements: a compiler, where the machine has none."""
        return [] if machine_compiler() else [ZIG]

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:  # noqa: ARG002
        """Compile, whichever kind of wheel is built."""
        built = compile_kernels(Path(self.root) / HERE)
        build_data["pure_python"] = False
        build_data["tag"] = f"cp311-abi3-{_platform_tag()}"
        build_data["force_include"][str(built)] = f"limner/curves/kernels/{built.name}"


@functools.cache
def machine_compiler() -> tuple[str, ...]:
    """Command of a C compiler that takes Unix options and answers; empty where there is none.

    ``CC`` names it, then the one with which Python itself was compiled, then the usual ones. On Windows the
    usual one takes other options: zig, which is the same everywhere, stands in for it unless ``CC`` is set.
    """
    usual = () if sys.platform == "win32" else (sysconfig.get_config_var("CC") or "cc", "cc", "gcc", "clang")
    for command in (os.environ.get("CC", ""), *usual):
        words = shlex.split(command)
        # Without its command line tools, macOS has a compiler that does nothing but ask for them.
        if words and _answers(words):
            return tuple(words)
    return ()


def _answers(command: list[str]) -> bool:
    try:
        return subprocess.run([*command, "--version"], capture_output=True, check=False).returncode == 0  # noqa: S603
    except OSError:
        return False


def compile_kernels(folder: Path) -> Path:
    """Compile the sources in a folder; the module is laid beside them.

    Returns
    -------
    Path
        The module.

    Raises
    ------
    RuntimeError
        The compiler's own messages, where it failed.
    """
    module = folder / ("_compiled.pyd" if sys.platform == "win32" else "_compiled.abi3.so")
    compiler = machine_compiler()
    command = [*compiler, *FLAGS] if compiler else [sys.executable, "-m", "ziglang", "cc", *FLAGS, *ZIG_FLAGS]
    with TemporaryDirectory(dir=folder) as passing:
        made = Path(passing) / module.name
        command += [f'-DSOURCE_DIGEST="{source_digest(folder)}"', f"-I{sysconfig.get_path('include')}"]
        command += [str(path) for path in sorted(folder.glob("*.c"))]
        command += [*_linking(), "-o", str(made)]
        done = subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603
        if done.returncode:
            raise RuntimeError(f"The loops of the curve fit could not be compiled:\n{done.stderr}")
        # Renamed: a module that is in use stays whole for those who use it.
        return made.replace(module)


def _linking() -> list[str]:
    """Options that make a module of the objects, which finds Python's own functions when it is loaded."""
    if sys.platform == "darwin":
        return ["-bundle", "-undefined", "dynamic_lookup", f"-mmacosx-version-min={_macos_version()}"]
    if sys.platform == "win32":
        return ["-shared", str(Path(sys.base_prefix) / "libs" / "python3.lib")]
    return ["-shared", "-lm"]


def _macos_version() -> str:
    """The oldest macOS that the module shall run on: Python's own, or the first on the processor at hand."""
    oldest = sysconfig.get_platform().split("-")[1]
    return oldest if platform.machine() == "x86_64" else max(oldest, "11.0", key=_as_numbers)


def _as_numbers(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in version.split("."))


def source_digest(folder: Path) -> str:
    """Digest of the sources, by which the tests see whether the module is theirs."""
    digest = hashlib.sha256()
    for path in sorted(folder.glob("*.[ch]")):
        digest.update(path.read_bytes())
    return digest.hexdigest()


def _platform_tag() -> str:
    """Of the wheel: a Python for several processors is told only for the one that was compiled for."""
    tag = sysconfig.get_platform()
    if sys.platform == "darwin":
        tag = f"macosx-{_macos_version()}-{platform.machine()}"
    return tag.replace("-", "_").replace(".", "_")

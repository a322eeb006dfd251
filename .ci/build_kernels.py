"""Compile the kernels when the package is built or installed.

Where there is no compiler, the package is installed without them: limner then computes with NumPy, which
takes longer. ``LIMNER_KERNELS=required`` makes a failure an error, as when archives are made for a release.
"""

import hashlib
import os
import shutil
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

HERE = Path("trace/limner/curves/kernels")
# No contraction of products and sums, so that machines with and without it give the same digits; no trap on
# a root of a negative number, which lets loops be done several numbers at a time.
FLAGS = ("-O3", "-g0", "-ffp-contract=off", "-fno-math-errno", "-fno-trapping-math")


class KernelHook(BuildHookInterface[Any]):
    """Adds the compiled module to the wheel, or lays it beside its sources for an editable install."""

    PLUGIN_NAME = "kernels"

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:  # noqa: ARG002
        """Compile, whichever kind of wheel is built."""
        root = Path(self.root)
        try:
            built = compile_kernels(root / HERE)
        except Exception as error:
            # Whatever a compiler or its absence may raise: the package works without.
            if os.environ.get("LIMNER_KERNELS") == "required":
                raise
            self.app.display_warning(f"limner is installed without its compiled loops: {error}")
            # One of older sources would be worse than none.
            for stale in (root / HERE).glob("_compiled.*[!i]"):
                stale.unlink()
            return
        build_data["pure_python"] = False
        build_data["tag"] = f"cp311-abi3-{_platform()}"
        build_data["force_include"][str(built)] = f"limner/curves/kernels/{built.name}"


def compile_kernels(folder: Path) -> Path:
    """Compile the sources in a folder; the module is laid beside them.

    Returns
    -------
    Path
        The module.
    """
    from setuptools import Distribution, Extension
    from setuptools.command.build_ext import build_ext

    windows = sys.platform == "win32"
    extension = Extension(
        "_compiled",
        [str(path) for path in sorted(folder.glob("*.c"))],
        define_macros=[("SOURCE_DIGEST", f'"{source_digest(folder)}"')],
        extra_compile_args=["/O2", "/fp:precise"] if windows else ["-std=c11", *FLAGS],
        py_limited_api=True,
    )
    with TemporaryDirectory() as passing:
        command = build_ext(Distribution({"name": "kernels", "ext_modules": [extension]}))
        command.build_lib = command.build_temp = passing
        command.ensure_finalized()
        command.run()
        made = Path(command.get_ext_fullpath("_compiled"))
        # Written beside and then renamed: a module that is in use stays whole for those who use it.
        passed = folder / f"{made.name}.new"
        shutil.copyfile(made, passed)
        return passed.replace(folder / made.name)


def source_digest(folder: Path) -> str:
    """Digest of the sources, by which the tests see whether the module is theirs."""
    digest = hashlib.sha256()
    for path in sorted(folder.glob("*.[ch]")):
        digest.update(path.read_bytes())
    return digest.hexdigest()


def _platform() -> str:
    import sysconfig

    return sysconfig.get_platform().replace("-", "_").replace(".", "_")

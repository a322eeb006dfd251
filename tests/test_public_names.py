"""The names that a program imports from the package itself."""

import subprocess
import sys

import pytest

import limner


def test_names_are_sorted_and_there() -> None:
    assert limner.__all__ == sorted(limner.__all__)
    assert set(limner.__all__) <= set(dir(limner))
    assert [name for name in limner.__all__ if getattr(limner, name) is None] == []


def test_names_lead_to_their_homes() -> None:
    from limner.pipeline.sketch.many import trace_many
    from limner.pipeline.sketch.trace import trace

    assert limner.trace is trace
    assert limner.trace_many is trace_many


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="paint"):
        limner.paint  # noqa: B018


def test_importing_the_package_loads_nothing_else() -> None:
    code = (
        "import sys; before = set(sys.modules); import limner; "
        "new = set(sys.modules) - before - {'limner', 'typing'}; "
        "assert not {m for m in new if m.split('.')[0] in ('limner', 'numpy', 'cv2', 'scipy', 'PIL')}, new"
    )
    subprocess.run([sys.executable, "-c", code], check=True)

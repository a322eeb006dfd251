"""The sizes of ISO 216, from how they are made."""

import pytest

from limner.geometry.lengths import ISO_216_MM

# ISO 216: A0 has a square metre and B0 a short side of one metre, sides as the square root of 2, in whole
# millimetres; each next size is half of the one before, parted across its long side, rounded down.
LARGEST_MM = {"A": (841, 1189), "B": (1000, 1414)}


@pytest.mark.parametrize("name", ISO_216_MM)
def test_each_size_is_half_of_the_one_before(name):
    short, long = LARGEST_MM[name[0]]
    for _ in range(int(name[1:])):
        short, long = long // 2, short
    assert ISO_216_MM[name] == (short, long)

"""What a sticker has from the one that it is like: shown with it, and copied before it is changed."""

import tomllib

from limner.desk.edits.decide import decide
from limner.desk.edits.edit import Edit
from limner.desk.edits.inherited import as_shown

JOB = """\
[[sticker]]
name = "crab"
sketch = "crab.jpg"
width = "40 mm"
mirror = "auto"

  [[sticker.touch]]
  rub = [[0.1, 0.1], [0.2, 0.1]]   # a smudge

[[sticker]]
name = "small"
like = "crab"
width = "20 mm"
"""

DRAWN = {"draw": [[0.3, 0.3], [0.4, 0.3]]}
RUBBED = {"rub": [[0.1, 0.1], [0.2, 0.1]]}


def test_touches_of_the_other_sticker_are_shown_and_copied_before_one_is_added():
    shown = as_shown(tomllib.loads(JOB))["sticker"][1]
    assert (shown["touch"], shown["mirror"], shown["width"]) == ([RUBBED], "auto", "20 mm")
    after = tomllib.loads(decide(JOB, [Edit("add", ("sticker", "small", "touch"), DRAWN)]))["sticker"]
    assert after[1]["touch"] == [RUBBED, DRAWN]
    assert after[0]["touch"] == [RUBBED]


def test_a_touch_of_the_other_sticker_is_changed_in_a_copy():
    where = ("sticker", "small", "touch", 0, "width")
    after = tomllib.loads(decide(JOB, [Edit("set", where, "3 mm")]))["sticker"]
    assert after[1]["touch"] == [{**RUBBED, "width": "3 mm"}]
    assert after[0]["touch"] == [RUBBED]


def test_a_sticker_with_touches_of_its_own_gets_no_copies():
    first = decide(JOB, [Edit("add", ("sticker", "small", "touch"), DRAWN)])
    after = tomllib.loads(decide(first, [Edit("remove", ("sticker", "small", "touch", 0))]))["sticker"]
    assert after[1]["touch"] == [DRAWN]

"""Jobs and decisions on them, drawn by Hypothesis: keys of every kind, in files written in every way."""

from typing import Any

from hypothesis import strategies as st

from limner.desk.edits.edit import Edit

__all__ = ["JOBS", "decisions", "independent_edits"]

PLAIN = """\
# A sheet for the rock pool.

[sheet]
size = "A6"                     # small
bleed = "3 mm"
safe = "4 mm"

# Colours, as the press mixes them.
[colours]
sand = "#ecd9bf"
kelp = { cmyk = [70, 20, 80, 30] }   # dark

# [print]
# white = "0.1 mm"

[[sticker]]                     # the first
name = "crab"
sketch = "crab.jpg"
width = "38 mm"

  [sticker.cut]
  form = "ellipse"

  # What she sees first.
  [[sticker.area]]
  at = [0.42, 0.31]
  name = "shell"                # red
  fill = "kelp"

  [[sticker.area]]
  at = [[0.1, 0.2],
        [0.3, 0.4]]             # two points
  fill = "sand"

# The second one.

[[sticker]]
name = "whelk"
sketch = "crab.jpg"
width = "20 mm"


[[lettering]]
text = "Tide # Pool"
size = "16 pt"
at = ["52.5 mm", "14 mm"]
# the end
"""

DENSE = """\
colours = { sand = "#ecd9bf", kelp = { cmyk = [70, 20, 80, 30] } }
sheet.size = "A6"
sheet."bleed" = '3 mm'
cut.distance = "2 mm" # dotted
[[sticker]]
name='crab'
sketch='crab.jpg'
width=38
cut = {form="ellipse"}
area = [ { at = [0.42, 0.31], name = "shell", fill = "kelp" }, # one
  {at=[0.1,0.2]} , ]
[[lettering]]
text = '''Tide
[[pool]]'''
size = "16 pt"
at = ["52.5 mm", "14 mm"]
[[sticker]]
name = "whelk"
sketch = "crab.jpg"
width = "20 mm"
[sticker.cut]
[[sticker.touch]]
draw = [[0.1, 0.1], [0.2, 0.2]]"""

BARE = '[[sticker]]\nname = "crab"\nsketch = "crab.jpg"\nwidth = "38 mm"\n'

MIXED = PLAIN[:300].replace("\n", "\r\n") + PLAIN[300:]

JOBS = (PLAIN, DENSE, BARE, PLAIN.replace("\n", "\r\n"), MIXED)
"""Jobs as people write them; each has a sticker "crab"."""

_LENGTHS = st.sampled_from(["1 mm", "2.5 mm", "10 pt", 12, 7.25])
_FRACTIONS = st.floats(0.01, 0.99).map(lambda value: round(value, 3))
_POINTS = st.tuples(_FRACTIONS, _FRACTIONS).map(list)
_COLOURS = st.sampled_from(["#aa3322", "black", "white"])
_TEXTS = st.text(st.characters(exclude_categories=("Cs", "Cc", "Zl", "Zp")), min_size=1, max_size=12).filter(
    lambda text: text.strip()
)


@st.composite
def _areas(draw: st.DrawFn) -> dict[str, Any]:
    area: dict[str, Any] = {"at": draw(_POINTS)}
    if draw(st.booleans()):
        area["fill"] = draw(_COLOURS)
    if draw(st.booleans()):
        area["at"] = draw(st.lists(_POINTS, min_size=1, max_size=40))
    return area


_TOUCHES = st.lists(_POINTS, min_size=2, max_size=60, unique_by=tuple).map(lambda line: {"draw": line})

_KEYS: dict[tuple[str | int, ...], st.SearchStrategy[Any]] = {
    ("sheet", "bleed"): _LENGTHS,
    ("sheet", "background"): _COLOURS,
    ("sheet", "size"): st.sampled_from(["A5", "A6", "105 mm x 148 mm"]),
    ("colours", "coral"): st.sampled_from(["#ff8877", {"cmyk": [0, 52, 50, 3]}]),
    ("colours", "sea green"): st.just({"cmyk": [60, 0, 30, 0]}),
    ("cut", "distance"): _LENGTHS,
    ("print", "most_ink"): st.just(300),
    ("sticker", "crab", "width"): _LENGTHS,
    ("sticker", "crab", "nodes"): st.integers(100, 900),
    ("sticker", "crab", "at"): st.just(["30 mm", "40 mm"]),
    ("sticker", "crab", "mirror"): st.sampled_from(["auto", {"at": [0.5, 0.5], "angle": 90}]),
    ("sticker", "crab", "cut", "distance"): _LENGTHS,
    ("sticker", "crab", "cut", "form"): st.sampled_from(["circle", ["outline", {"circle": "9 mm"}]]),
    ("sticker", "crab", "area"): st.lists(_areas(), min_size=1, max_size=3),
    ("lettering",): st.just([{"text": "Low tide", "size": "9 pt", "at": [10, 10]}]),
}

_LISTS = {
    ("sticker", "crab", "area"): _areas(),
    ("sticker", "crab", "touch"): _TOUCHES,
    ("lettering",): st.builds(lambda text: {"text": text, "size": "9 pt", "at": ["10 mm", 10]}, _TEXTS),
}


@st.composite
def _edits(draw: st.DrawFn) -> Edit:
    what = draw(st.sampled_from(["set", "set", "unset", "add", "add", "remove"]))
    if what in ("set", "unset"):
        where = draw(st.sampled_from(sorted(_KEYS, key=str)))
        return Edit(what, where, draw(_KEYS[where]) if what == "set" else None)
    where = draw(st.sampled_from(sorted(_LISTS, key=str)))
    if what == "add":
        return Edit("add", where, draw(_LISTS[where]), draw(st.sampled_from([None, None, 0])))
    return Edit("remove", (*where, draw(st.integers(0, 2))))


decisions = st.lists(_edits(), min_size=1, max_size=6)
"""Decisions, some of which speak of what is not there."""


@st.composite
def independent_edits(draw: st.DrawFn) -> list[Edit]:
    """Edits of different keys, none inside of another."""
    keys = [
        where
        for where in sorted(_KEYS, key=str)
        if where not in (("sticker", "crab", "area"), ("lettering",))
    ]
    chosen = draw(st.lists(st.sampled_from(keys), min_size=2, max_size=6, unique=True))
    return [Edit("set", where, draw(_KEYS[where])) for where in chosen]

"""Decisions change what they are about and nothing else, and are taken back to the byte."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from helpers_edits import JOBS, decisions, independent_edits
from limner.desk.edits.decide import decide
from limner.desk.edits.edit import Edit, changed, edits_from_json, resolved
from limner.desk.edits.patch import patch_between
from limner.errors import InputError


@given(st.sampled_from(JOBS), decisions)
def test_taken_back_the_text_is_as_it_was(text: str, edits: list[Edit]) -> None:
    try:
        after = decide(text, edits)
    except InputError:
        return
    patch = patch_between(text, after)
    assert patch.apply(text) == after
    assert patch.inverse.apply(after) == text


@given(st.sampled_from(JOBS), decisions)
def test_the_text_says_what_was_decided(text: str, edits: list[Edit]) -> None:
    expected = tomllib.loads(text)
    try:
        for edit in edits:
            expected = changed(expected, edit, resolved(edit, expected))
    except InputError:
        with pytest.raises(InputError):
            decide(text, edits)
        return
    said = tomllib.loads(decide(text, edits))
    # A table whose last key has gone may go with it.
    assert without_empty(said) == without_empty(expected)


@given(st.sampled_from(JOBS), decisions)
def test_comments_stay_in_their_order(text: str, edits: list[Edit]) -> None:
    kept = [edit for edit in edits if edit.what in ("set", "add") and edit.where not in WHOLE]
    try:
        after = decide(text, kept)
    except InputError:
        return
    assert comments(after) == comments(text)


@given(st.sampled_from(JOBS), independent_edits(), st.randoms(use_true_random=False))
def test_independent_edits_give_the_same_job_in_any_order(text: str, edits: list[Edit], random) -> None:
    shuffled = list(edits)
    random.shuffle(shuffled)
    assert tomllib.loads(decide(text, edits)) == tomllib.loads(decide(text, shuffled))


@given(st.sampled_from(JOBS), independent_edits())
def test_lines_that_are_not_concerned_stay_byte_for_byte(text: str, edits: list[Edit]) -> None:
    after = decide(text, edits[:1])
    patch = patch_between(text, after)
    # One stretch of text changes: what is cut out holds no whole line but that of the key.
    assert patch.old.count("\n") <= 1


def test_a_key_is_changed_where_it_stands() -> None:
    text = '[sheet]\nsize   =   "A6"  # small\n\n[[sticker]]\nname = "crab" # the crab\nwidth = "38 mm"\n'
    after = decide(
        text, [Edit("set", ("sticker", "crab", "width"), "40 mm"), Edit("set", ("sheet", "size"), "A5")]
    )
    assert after == text.replace("38 mm", "40 mm").replace('"A6"', '"A5"')


def test_new_keys_and_tables_are_written_as_a_person_would() -> None:
    text = (
        '[[sticker]]\nname = "crab"\nwidth = "38 mm"   # true width\n\n# Next.\n[[sticker]]\nname = "whelk"\n'
    )
    edits = [
        Edit("set", ("sticker", "crab", "nodes"), 200),
        Edit("set", ("sticker", "crab", "cut", "distance"), "3 mm"),
        Edit("add", ("sticker", "crab", "area"), {"at": [0.4, 0.3], "fill": "coral"}),
        Edit("set", ("colours", "coral"), {"cmyk": [0, 52, 50, 3]}),
    ]
    assert decide(text, edits) == (
        "[colours]\ncoral = { cmyk = [0, 52, 50, 3] }\n\n"
        '[[sticker]]\nname = "crab"\nwidth = "38 mm"   # true width\nnodes = 200\n\n'
        '  [sticker.cut]\n  distance = "3 mm"\n\n'
        '  [[sticker.area]]\n  at = [0.4, 0.3]\n  fill = "coral"\n\n'
        '# Next.\n[[sticker]]\nname = "whelk"\n'
    )


def test_a_table_goes_with_the_comment_above_it() -> None:
    head, crab = '[sheet]\nsize = "A6"\n\n', '# Crab.\n[[sticker]]\nname = "crab"\n\n'
    whelk = '# Whelk.\n[[sticker]]\nname = "whelk"\n'
    assert decide(head + crab + whelk, [Edit("remove", ("sticker", "crab"))]) == head + whelk


@pytest.mark.parametrize(
    "edits",
    [
        [],
        "set",
        [{"what": "paint", "where": ["sheet"], "to": 1}],
        [{"what": "set", "where": [], "to": 1}],
        [{"what": "set", "where": ["sheet", None], "to": 1}],
        [{"what": "set", "where": ["sheet", True], "to": 1}],
        [{"what": "set", "where": ["sheet", -1], "to": 1}],
        [{"what": "set", "where": ["sheet", "size"]}],
        [{"what": "add", "where": ["sticker"], "to": {}, "at": "0"}],
        [{"what": "set", "where": ["sheet", "size"], "to": "A6", "why": "so"}],
        [{"what": "set", "where": ["a"] * 50, "to": 1}],
        [{"what": "set", "where": ["sheet", "size"], "to": [[[[[[[[[[[[[[1]]]]]]]]]]]]]]}],
    ],
)
def test_what_is_no_edit_is_refused(edits: object) -> None:
    with pytest.raises(InputError):
        edits_from_json(edits)


@pytest.mark.parametrize("value", [{"x": None}, [float("inf")], "\ud800", {"a": {"b": [None]}}])
def test_a_value_that_toml_does_not_have_is_refused(value: object) -> None:
    with pytest.raises(InputError):
        decide(JOBS[0], [Edit("set", ("sheet", "size"), value)])


WHOLE = (("sticker", "crab", "area"), ("lettering",), ("sticker", "crab", "mirror"))


def comments(text: str) -> list[str]:
    return [line.strip() for line in text.replace("\r\n", "\n").split("\n") if line.strip().startswith("#")]


def without_empty(value):
    if isinstance(value, dict):
        inner = {key: without_empty(item) for key, item in value.items()}
        return {key: item for key, item in inner.items() if item not in ({}, [])}
    return [without_empty(item) for item in value] if isinstance(value, list) else value

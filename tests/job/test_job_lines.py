import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limner.job.lines import nearest_line, toml_lines

DOCUMENT = '''\
# a comment with [brackets] and "quotes"
title = "one"   # behind a value

[a.b]
c.d = 1
"quo\\u0074ed = key" = """
[not.a.table]
x = 1 \\""" still inside """
'literal' = \'\'\'
y = 2\'\'\'

[[list]]
name = 'first'
inline = { one = 1, two = [ { deep = 1 },
  { deep = 2 } ] }
[list.sub]
z = [
  1, # one
  2,
]
[[list]]
name = "second"
[[list.inner]]
[[list.inner]]
w = 1979-05-27T07:32:00Z
'''


def test_each_key_is_found_on_its_line():
    lines = toml_lines(DOCUMENT)
    expected = {
        ("title",): 2,
        ("a", "b"): 4,
        ("a", "b", "c", "d"): 5,
        ("a", "b", "quoted = key"): 6,
        ("a", "b", "literal"): 9,
        ("list", 0): 12,
        ("list", 0, "name"): 13,
        ("list", 0, "inline", "two", 0, "deep"): 14,
        ("list", 0, "inline", "two", 1, "deep"): 15,
        ("list", 0, "sub", "z"): 17,
        ("list", 0, "sub", "z", 1): 19,
        ("list", 1, "name"): 22,
        ("list", 1, "inner", 1): 24,
        ("list", 1, "inner", 1, "w"): 25,
    }
    assert {path: lines[path] for path in expected} == expected


def test_what_is_missing_takes_the_line_of_what_it_would_be_in():
    lines = toml_lines(DOCUMENT)
    assert nearest_line(lines, ("list", 1, "inner", 0, "nothing")) == 23
    assert nearest_line(lines, ("nothing", "at", "all")) is None


def test_windows_line_ends_count_once():
    assert toml_lines("a = 1\r\nb = 2\r\n[c]\r\nd = 3\r\n")[("c", "d")] == 4


def paths_of(value, prefix=()):
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        yield (*prefix, key)
        yield from paths_of(inner, (*prefix, key))


texts = st.sampled_from([*DOCUMENT.splitlines(keepends=True), "k = {}\n", "[x.y]\n", "e = []\n", "\n"])


@given(st.lists(texts, max_size=12).map("".join))
def test_every_path_of_a_valid_document_has_a_line(text):
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    lines = toml_lines(text)
    for path in paths_of(data):
        assert 1 <= lines[path] <= text.count("\n") + 1


@pytest.mark.parametrize("text", ["", "\n\n", "# only a comment"])
def test_an_empty_document_has_no_lines(text):
    assert toml_lines(text) == {}

"""What is said of a text that is no TOML: each of these was written by hand into a job at some time."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limner.job.syntax import syntax_problem


def problem(text: str) -> str:
    with pytest.raises(tomllib.TOMLDecodeError) as caught:
        tomllib.loads(text)
    return syntax_problem(text, caught.value)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        # Lengths and other values without quotes.
        ("[sheet]\nbleed = 3 mm\n", 'line 2: 3 mm stands without quotes: write bleed = "3 mm".'),
        ("width = 38mm  # of the art", 'line 1: 38mm stands without quotes: write width = "38 mm".'),
        ("at = [30 mm, 40 mm]", 'line 1: 30 mm stands without quotes: write "30 mm".'),
        ("smoothing = 0,1 mm", 'line 1: 0,1 mm stands without quotes: write smoothing = "0.1 mm".'),
        ("width = 38,5", "line 1: 38,5 has a comma: write width = 38.5."),
        ("x = 42%", "line 1: percent are written as a fraction from 0 to 1: write 0.42 for 42%."),
        ("sketch = crab.jpg", 'line 1: a text stands in quotes: write sketch = "crab.jpg".'),
        ("skip = True", "line 1: True is written small: skip = true."),
        ("sand = #ecd9bf", 'line 1: a colour stands in quotes: write sand = "#ecd9bf".'),
        ("a = 1\nbleed = \n", 'line 2: bleed has no value: write one behind the "=", as in width = "38 mm".'),
        # Quotes.
        ("size = “A6”", 'line 1: “ is a curly quote: write straight ones, size = "A6".'),
        ("size = \u2018A6\u2019", 'line 1: \u2018 is a curly quote: write straight ones, size = "A6".'),
        ('a = 1\nbleed = "3 mm\nb = 2', 'line 2: a quote is opened and never closed: there must be a "'),
        ('a = 1\nb = """x\nc = "y"\n', 'line 2: the text that """ opens is never closed: end it with """.'),
        # Paths of another system.
        ('sketch = "C:\\art\\crab.jpg"', 'behind it: write sketch = "C:/art/crab.jpg".'),
        ('sketch = "C:\\users\\crab.jpg"', 'behind it: write sketch = "C:/users/crab.jpg".'),
        # Tables and keys twice.
        (
            "[sheet]\na = 1\n[sheet]",
            "line 3: [sheet] stands here a second time: put its keys under the first",
        ),
        ("[sticker]\na = 1\n[sticker]", "line 3: [sticker] wants double brackets, as there may be several"),
        ("[sticker]\na = 1\n[[sticker]]", "line 1: [sticker] wants double brackets, as there may be several"),
        ("[[sticker]]\n[sticker]", "line 2: sticker has 1 brackets here and is [[sticker]] on line 1"),
        ("[cut]\ngap = 1\ngap = 2", "line 3: gap stands twice in one table, first on line 2: take one out."),
        # Brackets and the sign of equality.
        ("[sheet\na = 1", "line 1: a bracket is missing: write [sheet]."),
        ("[[sticker]\n", "line 1: a bracket is missing: write [[sticker]]."),
        ("at = [1, 2\nb = 3\n", "line 1: [ is opened and not closed, or a comma is missing behind it"),
        ("x = { a = 1\n[cut]\n", "line 1: { is opened and not closed, or a comma is missing behind it"),
        ('size "A6"', 'line 1: there is no "=" between key and value: write size = "A6".'),
        ('size: "A6"', 'line 1: there is no "=" between key and value: write size = "A6".'),
        (
            "[colours]\nmy sand = 1",
            'line 2: a name with spaces stands without quotes: write "my sand" or my-sand.',
        ),
        # What no rule knows.
        ("a = 1 b = 2", "line 1: not valid TOML from its sign 7 on"),
    ],
)
def test_each_mistake_is_told_with_its_line_and_its_mend(text: str, said: str) -> None:
    message = problem(text)
    assert said in message
    assert message.endswith(".")
    assert "\n" not in message


def test_what_stands_in_quotes_or_in_a_comment_is_no_mistake() -> None:
    """The line itself is sound but for its end: neither the length nor the curly quotes are to blame."""
    for line in ('text = "3 mm of “sand”" x', 'text = "a" x # 3 mm'):
        assert "not valid TOML" in problem(line)


@given(st.text(alphabet="[]{}=\",.#\\\n\r ab1m'”%-", max_size=40))
def test_any_text_gives_one_sentence(text: str) -> None:
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        message = syntax_problem(text, error)
        assert message.startswith("line ")
        assert "\n" not in message

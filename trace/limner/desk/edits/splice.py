"""One edit made on the text of a job: nothing moves but what it is about.

Method: the place of every key is known to the character (`layout`), so that a value is exchanged where it
stands, a new key goes behind the last one of its table, and a table goes with the comment right above its
header. All else, comments, order and blank lines, stays as it was written.
"""

from collections.abc import Mapping
from typing import Any

from limner.desk.edits.lines import behind_line, behind_table, first_of, indent_at, line_start
from limner.desk.edits.writing import block_text, key_text, value_text
from limner.errors import InputError
from limner.job import Block, KeyPath, Layout, Pair, Value, layout_of

__all__ = ["added", "set_to", "unset"]

# Tables of a sticker that get a header of their own; a new one of another name is written in one line.
_WITH_HEADER = ("cut",)

_DEEPER = "  "


def set_to(text: str, path: KeyPath, to: Any) -> str:
    """Give a key a value, or an entry of a list another one."""
    layout = layout_of(text)
    value = layout.value(path)
    if value is not None:
        return text[: value.start] + value_text(to, indent_at(text, value.start)) + text[value.end :]
    if layout.under(path) or layout.dotted(path):
        return set_to(unset(text, path), path, to)
    if len(path) == 1 and isinstance(to, Mapping):
        return _with_top_table(layout, path, to)
    return _with_key(layout, path, to)


def unset(text: str, path: KeyPath) -> str:
    """Take out a key, whatever it holds; one that is not there is no mistake."""
    layout = layout_of(text)
    if layout.value(path) is not None:
        return _without_value(layout, path)
    for block in reversed(layout.under(path)):
        text = _without_block(block, text)
    layout = layout_of(text)
    for _, pair in reversed(layout.dotted(path)):
        text = _without_lines(text, pair)
    return text


def added(text: str, path: KeyPath, to: Any, at: int | None) -> str:
    """Put an entry into a list, before another one or behind the last."""
    layout = layout_of(text)
    value = layout.value(path)
    if value is not None:
        return _with_item(text, value, to, at)
    if not isinstance(to, Mapping):
        return set_to(text, path, [to])
    count = layout.count(path)
    if at is not None and at < count:
        next_one = layout.under((*path, at))[0]
        place, indent = first_of(text, next_one.start), indent_at(text, next_one.start)
        return f"{text[:place]}{block_text(path, to, indent=indent, repeated=True)}\n{text[place:]}"
    if count:
        last = layout.under((*path, count - 1))
        return _behind(
            text, last[-1], block_text(path, to, indent=indent_at(text, last[0].start), repeated=True)
        )
    return _first_entry(layout, path, to)


def _first_entry(layout: Layout, path: KeyPath, to: Mapping[str, Any]) -> str:
    """The first table of its kind: at the end of what it belongs to."""
    text, parents = layout.text, layout.under(path[:-1])
    if not parents or len(path) == 1:
        if len(path) > 1:
            return set_to(text, path, [to])
        return _behind_all(text, block_text(path, to, indent="", repeated=True))
    indent = indent_at(text, parents[0].start) + _DEEPER
    return _behind(text, parents[-1], block_text(path, to, indent=indent, repeated=True))


def _with_top_table(layout: Layout, path: KeyPath, to: Mapping[str, Any]) -> str:
    """A new table before the first one in double brackets, where there is one."""
    text, block = layout.text, block_text(path, to, indent="", repeated=False)
    lists = [block for block in layout.blocks if any(isinstance(key, int) for key in block.path)]
    if not lists:
        return _behind_all(text, block)
    place = first_of(text, lists[0].start)
    return f"{text[:place]}{block}\n{text[place:]}"


def _with_key(layout: Layout, path: KeyPath, to: Any) -> str:
    text, parent, key = layout.text, path[:-1], path[-1]
    if not isinstance(key, str):
        raise InputError("A list has no such entry: it may have changed meanwhile.")
    holder = layout.value(parent) if parent else None
    if holder is not None:
        return _with_inline(text, holder, key, to)
    block = layout.block(parent)
    if block is not None:
        return _with_line(text, block, (key,), to)
    dotted = layout.dotted(parent)
    if dotted:
        block, last = dotted[-1]
        keys = (*last.path[: len(parent) - len(block.path)], key)
        return _with_line(text, block, keys, to, last)
    return _with_table(layout, path, to)


def _with_table(layout: Layout, path: KeyPath, to: Any) -> str:
    """A key of a table that is not there yet, or only as the place of others."""
    text, parent, table = layout.text, path[:-1], {str(path[-1]): to}
    if not parent:
        return (
            set_to(text, path, to)
            if isinstance(to, Mapping)
            else _with_line(text, layout.blocks[0], path, to)
        )
    inner = layout.under(parent)
    if inner:
        place, indent = first_of(text, inner[0].start), indent_at(text, inner[0].start)
        return f"{text[:place]}{block_text(parent, table, indent=indent, repeated=False)}\n{text[place:]}"
    outer = layout.block(parent[:-1])
    if parent[-1] in _WITH_HEADER and outer is not None and outer.path:
        indent = indent_at(text, outer.start) + _DEEPER
        return _behind(text, outer, block_text(parent, table, indent=indent, repeated=False))
    return set_to(text, parent, table)


def _with_line(text: str, block: Block, keys: KeyPath, to: Any, last: Pair | None = None) -> str:
    """A new pair on a line of its own, behind another one or the last of its table."""
    start = last.start if last else block.pairs[-1].start if block.pairs else block.start
    if not block.pairs and not block.path:
        return f"{_pair_text(keys, to, '')}\n{text}"
    end = last.value.end if last else block.last
    indent = indent_at(text, start)
    place = behind_line(text, end)
    before = text[:place] if text[:place].endswith("\n") else f"{text[:place]}\n"
    return f"{before}{indent}{_pair_text(keys, to, indent)}\n{text[place:]}"


def _pair_text(keys: KeyPath, to: Any, indent: str) -> str:
    return f"{'.'.join(key_text(str(key)) for key in keys)} = {value_text(to, indent)}"


def _with_inline(text: str, holder: Value, key: str, to: Any) -> str:
    pair = f"{key_text(key)} = {value_text(to)}"
    if holder.pairs:
        place = holder.pairs[-1].value.end
        return f"{text[:place]}, {pair}{text[place:]}"
    if holder.kind != "table":
        raise InputError("There is no table to put that key into: it may have changed meanwhile.")
    return f"{text[: holder.start]}{{ {pair} }}{text[holder.end :]}"


def _with_item(text: str, holder: Value, to: Any, at: int | None) -> str:
    item = value_text(to)
    if not holder.items:
        return f"{text[: holder.start]}[{item}]{text[holder.end :]}"
    if at is not None and at < len(holder.items):
        place = holder.items[at].start
        return f"{text[:place]}{item}, {text[place:]}"
    place = holder.items[-1].end
    return f"{text[:place]}, {item}{text[place:]}"


def _behind(text: str, block: Block, new: str) -> str:
    """A new table behind the last line of another one, with a blank line between them."""
    place = behind_table(text, block.last)
    before = text[:place] if text[:place].endswith("\n") else f"{text[:place]}\n"
    return f"{before}\n{new}{text[place:]}"


def _behind_all(text: str, new: str) -> str:
    before = text if not text or text.endswith("\n") else f"{text}\n"
    gap = "\n" if before.strip() and not before.endswith("\n\n") else ""
    return f"{before}{gap}{new}"


def _without_value(layout: Layout, path: KeyPath) -> str:
    """Without a pair or an entry that is written as a value."""
    text = layout.text
    for block in layout.blocks:
        for pair in block.pairs:
            if (*block.path, *pair.path) == path:
                return _without_lines(text, pair)
    for depth in range(len(path) - 1, 0, -1):
        holder = layout.value(path[:depth])
        if holder is not None and holder.kind != "plain":
            return _without_inner(text, holder, path[depth:])
    raise InputError("That place cannot be changed here: change it in the job file.")


def _without_inner(text: str, holder: Value, path: KeyPath) -> str:
    """Without an entry of an array or a pair of an inline table, and one comma."""
    if holder.kind == "list":
        number = int(path[0])
        spans = [(item.start, item.end) for item in holder.items]
    else:
        number = next(i for i, pair in enumerate(holder.pairs) if pair.path == path)
        spans = [(pair.start, pair.value.end) for pair in holder.pairs]
    if number + 1 < len(spans):
        return text[: spans[number][0]] + text[spans[number + 1][0] :]
    if number:
        return text[: spans[number - 1][1]] + text[spans[number][1] :]
    empty = "[]" if holder.kind == "list" else "{}"
    return text[: holder.start] + empty + text[holder.end :]


def _without_lines(text: str, pair: Pair) -> str:
    return text[: line_start(text, pair.start)] + text[behind_line(text, pair.value.end) :]


def _without_block(block: Block, text: str) -> str:
    """Without a table; the text behind it may have changed already."""
    start = first_of(text, block.start)
    end = behind_table(text, block.last)
    while end < len(text) and text[end : behind_line(text, end)].strip() == "":
        end = behind_line(text, end)
    return text[:start] + text[end:]

"""Kept results: they read back exactly, and nothing that is damaged, misplaced or forged is believed."""

import hashlib
import json
import os
from pathlib import Path

import numpy as np
import pytest

from helpers_job import written_out
from limner.errors import OutputError
from limner.job.tables import ZoneTable
from limner.model.drawing import Drawing, Shape
from limner.model.geometry import Axis, CubicPath
from limner.pipeline.kept import code as code_module
from limner.pipeline.kept import store as store_module
from limner.pipeline.kept.store import Kept, Store, cut_key_of, key_of
from limner.pipeline.sketch.settings import TraceSettings
from limner.sheet.cut.cut_line import Cut, make_cut
from limner.sheet.cut.offset import Neck
from limner.sheet.settings import CutSettings

KEY, OTHER = "a" * 64, "b" * 64


def awkward_path(seed: int) -> CubicPath:
    """A closed path whose coordinates have all the digits that a float can have."""
    rng = np.random.default_rng(seed)
    corners = rng.normal(scale=30.0, size=(5, 2)) / 3.0
    arms = corners[:, None] + rng.normal(size=(5, 2, 2)) * 1e-7
    segments = np.stack([corners, arms[:, 0], arms[:, 1], np.roll(corners, -1, axis=0)], axis=1)
    return CubicPath(segments, [True, False, False, True, False], [False, True, False, True, True], True)


def some_trace() -> Kept:
    area = Shape(
        "sch\u00e4re-\u87f9", "area", (awkward_path(1), awkward_path(2)), "#ff8040", 0.1 / 3, 1e3 / 7, 2, 3
    )
    line = Shape("line-1", "line", (awkward_path(3),), "#000000", 5e-324)
    axis = Axis(10 / 3, 0.1, 89.99999999999999, 0.7, "half", "left")
    return Kept(Drawing(100 / 3, 50.0, (area,), (line,), 0.123, axis), 11.1 / 7)


def some_cut() -> Cut:
    square = np.array([[0.0, 0.0], [20.0, 0.0], [20.0, 20.0], [0.0, 20.0]])
    ends = np.roll(square, -1, axis=0)
    segments = np.stack(
        [square, square + (ends - square) / 3, square + (ends - square) * 2 / 3, ends], axis=1
    )
    path = CubicPath(segments, [True] * 4, [False] * 4, True)
    cut = make_cut([path], CutSettings())
    return Cut(cut.line, (Neck((1 / 3, 2 / 3), 0.1),))


def entry(folder: Path, key: str = KEY) -> Path:
    return folder / f"{key}.json"


def forge(folder: Path, body: bytes, key: str = KEY) -> None:
    """An entry whose digest is right, whatever it says."""
    digest = hashlib.sha256(key.encode() + b"\n" + body).hexdigest().encode()
    entry(folder, key).write_bytes(digest + b"\n" + body)


def test_a_trace_reads_back_bit_by_bit(tmp_path: Path) -> None:
    kept = some_trace()
    Store(tmp_path / "kept").save(KEY, kept)
    read = Store(tmp_path / "kept").load(KEY)
    assert read is not None
    assert written_out(read) == written_out(kept)


def test_a_cut_line_reads_back_bit_by_bit(tmp_path: Path) -> None:
    cut = some_cut()
    Store(tmp_path).save_cut(KEY, cut)
    read = Store(tmp_path).load_cut(KEY)
    assert read is not None
    assert written_out(read) == written_out(cut)


def test_the_same_trace_makes_the_same_bytes(tmp_path: Path) -> None:
    for name in ("one", "two"):
        Store(tmp_path / name).save(KEY, some_trace())
    assert entry(tmp_path / "one").read_bytes() == entry(tmp_path / "two").read_bytes()


def test_what_is_not_there_is_not_found(tmp_path: Path) -> None:
    assert Store(tmp_path / "nowhere").load(KEY) is None
    assert Store(tmp_path / "nowhere").load_cut(KEY) is None
    assert not (tmp_path / "nowhere").exists()


@pytest.mark.parametrize("where", [0, 0.3, 0.6, 0.99])
def test_one_wrong_bit_is_noticed(tmp_path: Path, where: float) -> None:
    store = Store(tmp_path)
    store.save(KEY, some_trace())
    data = bytearray(entry(tmp_path).read_bytes())
    data[int(where * len(data))] ^= 1
    entry(tmp_path).write_bytes(bytes(data))
    assert store.load(KEY) is None
    store.save(KEY, some_trace())
    assert store.load(KEY) is not None


def test_a_truncated_entry_is_noticed(tmp_path: Path) -> None:
    store = Store(tmp_path)
    store.save(KEY, some_trace())
    whole = entry(tmp_path).read_bytes()
    for length in (0, 10, 65, len(whole) // 2, len(whole) - 1):
        entry(tmp_path).write_bytes(whole[:length])
        assert store.load(KEY) is None


def test_an_entry_under_the_name_of_another_is_not_believed(tmp_path: Path) -> None:
    store = Store(tmp_path)
    store.save(KEY, some_trace())
    entry(tmp_path).rename(entry(tmp_path, OTHER))
    assert store.load(OTHER) is None


def test_a_cut_line_is_no_trace_and_a_trace_no_cut_line(tmp_path: Path) -> None:
    store = Store(tmp_path)
    store.save(KEY, some_trace())
    store.save_cut(OTHER, some_cut())
    assert store.load_cut(KEY) is None
    assert store.load(OTHER) is None


@pytest.mark.parametrize(
    "body",
    [
        b"", b"null", b"7", b'"text"', b"[]", b"{}", b"[" * 100_000, b"\xff\xfe", b'{"axis": null}', b"NaN"
    ],
)  # fmt: skip
def test_anything_may_stand_in_an_entry(tmp_path: Path, body: bytes) -> None:
    forge(tmp_path, body)
    assert Store(tmp_path).load(KEY) is None
    assert Store(tmp_path).load_cut(KEY) is None


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b'"fill":"#ff8040"', b'"fill":"red\\"/><script"'),
        (b'"role":"area"', b'"role":"thing"'),
        (b'"line_width_mm":0.123', b'"line_width_mm":NaN'),
        (b'"line_width_mm":0.123', b'"line_width_mm":"0.123"'),
        (b'"bridged_gaps":2', b'"bridged_gaps":-2'),
        (b'"area_mm2":0.0', b'"area_mm2":1' + b"0" * 400),
        (b'"name":"line-1"', b'"name":["line-1"]'),
        (b'"rule":3', b'"rule":-3'),
        (b'"rule":3', b'"rule":"3"'),
        (b'"inked":false', b'"inked":0'),
        (b'"paths":[', b'"paths":[[[1,2,3],[true],[true]],'),
        (b'"paths":[', b'"paths":[[[1,2,3,4,5,6,7,8],[true],[true]],'),
        (b'"score":0.7', b'"score":Infinity'),
    ],
)  # fmt: skip
def test_what_no_trace_can_say_is_not_believed(tmp_path: Path, old: bytes, new: bytes) -> None:
    store = Store(tmp_path)
    store.save(KEY, some_trace())
    body = entry(tmp_path).read_bytes().partition(b"\n")[2]
    forge(tmp_path, body)
    assert store.load(KEY) is not None
    assert old in body
    forge(tmp_path, body.replace(old, new, 1))
    assert store.load(KEY) is None


def test_links_are_neither_read_nor_written_through(tmp_path: Path) -> None:
    precious = tmp_path / "precious.txt"
    precious.write_bytes(b"mine")
    folder = tmp_path / "kept"
    folder.mkdir()
    entry(folder).symlink_to(precious)
    store = Store(folder)
    assert store.load(KEY) is None
    store.save(KEY, some_trace())
    assert precious.read_bytes() == b"mine"
    assert store.load(KEY) is not None
    assert not entry(folder).is_symlink()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes in folders")
def test_a_pipe_in_the_place_of_an_entry_does_not_block(tmp_path: Path) -> None:
    os.mkfifo(entry(tmp_path))
    assert Store(tmp_path).load(KEY) is None


def test_a_folder_that_cannot_be_is_no_error(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    for folder in (tmp_path / "file", tmp_path / "file" / "inside", tmp_path / "no" / "parent"):
        Store(folder).save(KEY, some_trace())
        Store(folder).save_cut(KEY, some_cut())
        assert Store(folder).load(KEY) is None
    assert (tmp_path / "file").read_bytes() == b""


def test_a_read_only_folder_is_read_and_not_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(files: object) -> None:
        raise OutputError("this place may not be written to")

    def refuse_time(path: object) -> None:
        raise PermissionError

    Store(tmp_path).save(KEY, some_trace())
    monkeypatch.setattr(store_module, "write_whole", refuse)
    monkeypatch.setattr(store_module.os, "utime", refuse_time)
    Store(tmp_path).save(OTHER, some_trace())
    assert Store(tmp_path).load(KEY) is not None
    assert Store(tmp_path).load(OTHER) is None


def test_entries_used_last_stay_and_other_files_are_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(store_module, "_MOST_ENTRIES", 3)
    (tmp_path / "notes.json").write_text("mine")
    store = Store(tmp_path)
    keys = [f"{number:064x}" for number in range(3)]
    for age, key in enumerate(keys):
        store.save(key, some_trace())
        os.utime(entry(tmp_path, key), (1000.0 + age, 1000.0 + age))
    assert store.load(keys[0]) is not None
    store.save(KEY, some_trace())
    assert sorted(path.stem for path in tmp_path.iterdir()) == sorted([keys[0], keys[2], KEY, "notes"])


def test_keys_depend_on_all_that_a_trace_depends_on(tmp_path: Path) -> None:
    sketch, mask = tmp_path / "crab.jpg", tmp_path / "mask.png"
    sketch.write_bytes(b"one")
    mask.write_bytes(b"one")
    zone = ZoneTable(mask="mask.png", smoothing="0.1 mm")
    plain = TraceSettings(folder=tmp_path)
    zoned = TraceSettings(folder=tmp_path, zones=(zone,))
    keys = [
        key_of(sketch, settings)
        for settings in (plain, zoned, TraceSettings(nodes=7), TraceSettings(mirror="auto"))
    ]
    sketch.write_bytes(b"two")
    keys += [key_of(sketch, settings) for settings in (plain, zoned)]
    mask.write_bytes(b"two")
    assert key_of(sketch, plain) == keys[4]
    keys.append(key_of(sketch, zoned))
    assert len(set(keys)) == 7


def test_keys_do_not_depend_on_the_place(tmp_path: Path) -> None:
    for name in ("here", "there"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "crab.jpg").write_bytes(b"one")
    here, there = (
        key_of(tmp_path / name / "crab.jpg", TraceSettings(folder=tmp_path / name))
        for name in ("here", "there")
    )
    assert here == there


def test_a_change_of_limner_or_of_its_libraries_changes_every_key(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sketch = tmp_path / "crab.jpg"
    sketch.write_bytes(b"one")
    keys = {key_of(sketch, TraceSettings())}
    version = code_module.metadata.version
    monkeypatch.setattr(
        code_module.metadata, "version", lambda name: version(name) + ("+x" if name == "scipy" else "")
    )
    code_module.code_digest.cache_clear()
    keys.add(key_of(sketch, TraceSettings()))
    monkeypatch.undo()
    package = tmp_path / "limner"
    package.mkdir()
    (package / "stage.py").write_text("changed = True")
    monkeypatch.setattr(code_module.resources, "files", lambda _: package)
    code_module.code_digest.cache_clear()
    keys.add(key_of(sketch, TraceSettings()))
    monkeypatch.undo()
    code_module.code_digest.cache_clear()
    assert len(keys) == 3


def test_cut_keys_depend_on_the_drawing_its_width_and_the_cut() -> None:
    keys = {
        cut_key_of(key, width, settings)
        for key in (KEY, OTHER)
        for width in (30.0, 31.0)
        for settings in (CutSettings(), CutSettings(distance_mm=3.0), CutSettings(forms=("circle",)))
    }
    assert len(keys) == 12
    assert cut_key_of(KEY, 30.0, CutSettings()) in keys


def test_entries_are_text_that_anyone_can_read(tmp_path: Path) -> None:
    Store(tmp_path).save(KEY, some_trace())
    data = json.loads(entry(tmp_path).read_bytes().partition(b"\n")[2])
    assert [shape["name"] for shape in data["fills"]] == ["sch\u00e4re-\u87f9"]

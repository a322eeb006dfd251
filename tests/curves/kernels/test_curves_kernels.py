"""The compiled loops against plain computations of the same, and against damaged arguments."""

import ast
import hashlib
import inspect
from pathlib import Path

import numpy as np
import pytest
import shapely

import oracle_curves as oracle
from limner.curves.kernels import compiled
from limner.curves.plan.single_cubics import fit_spans, span_errors
from limner.curves.refine.paths import Data, Nodes, controls, distances, follow_feet, subset
from limner.curves.refine.polish import polish
from limner.geometry.cubics import evaluate

KERNELS = Path(compiled.__file__).parent


def wave(count=900, noise=0.0, seed=1):
    x = np.linspace(0, 40, count)
    rng = np.random.default_rng(seed)
    return np.stack([x, 3 * np.sin(x) + 0.02 * x**2], axis=1) + rng.normal(0, noise, (count, 2))


def paths(seed=2):
    """An open path with a straight segment and a held end, a closed one, one segment alone, two segments that
    share both nodes, and data near all of them."""
    rng = np.random.default_rng(seed)
    sizes, rings = [4, 5, 1, 2], [False, True, False, True]
    start, end, before, after, path, smooth, places, first = [], [], [], [], [], [], [], 0
    for k, (size, ring) in enumerate(zip(sizes, rings, strict=True)):
        count, base = size if ring else size + 1, len(start)
        for i in range(size):
            start.append(first + i)
            end.append(first + (i + 1) % count)
            before.append(base + (i - 1) % size if ring or i else -1)
            after.append(base + (i + 1) % size if ring or i < size - 1 else -1)
            path.append(k)
        smooth += [ring or 0 < i < size for i in range(count)]
        turn = np.linspace(0, 2 * np.pi, count, endpoint=False) if ring else np.linspace(0, 3, count)
        places.append(10 * np.stack([np.cos(turn), np.sin(turn)], axis=1))
        first += count
    place, smooth = np.concatenate(places), np.array(smooth)
    turn = np.arctan2(place[:, 1], place[:, 0]) + np.pi / 2
    angle = np.repeat(turn[:, None], 2, axis=1)
    straight = np.zeros(len(start), bool)
    straight[1] = True
    held = np.zeros((first, 2), bool)
    held[0, 1] = True
    chord = np.hypot(*(place[np.array(end)] - place[np.array(start)]).T)
    handle = np.zeros((first, 2))
    handle[np.array(start), 1] = handle[np.array(end), 0] = chord / 2.5
    nodes = Nodes(
        place, angle, handle, smooth, ~smooth, held, np.array(start), np.array(end), straight,
        np.array(before), np.array(after), np.array(path),
    )  # fmt: skip
    t = np.tile(np.linspace(0, 1, 20), len(start))
    points = evaluate(controls(nodes), np.linspace(0, 1, 20)).reshape(-1, 2)
    points = points * (1.0 + 0.05 * np.sin(3 * np.arctan2(points[:, 1], points[:, 0])))[:, None]
    points += rng.normal(0, 0.01, points.shape)
    return nodes, Data(points, np.full(len(t), 0.05), np.repeat(np.arange(len(start)), 20), t)


def cost(nodes, data):
    away = distances(controls(nodes), data) / data.tolerance
    return np.bincount(nodes.path[data.segment], away**2)


def test_spans_are_those_of_the_oracle():
    points, tolerance = wave(), np.full(900, 0.02)
    first = np.repeat(np.arange(0, 300, 30), 4)
    last = first + np.tile([2, 8, 150, 600], 10)
    spans = list(zip(first, last, strict=True))
    assert fit_spans(points, first, last) == pytest.approx(
        np.array([oracle.fit_span(points, a, b) for a, b in spans]), rel=1e-8, abs=1e-8
    )
    wanted = np.array([oracle.span_error(points, tolerance, a, b) for a, b in spans])
    # Some are left at once, some after a step, some are fitted to the end.
    assert (wanted <= 0.1).sum() > 5 < (wanted >= 24.0).sum()
    assert ((wanted > 0.1) & (wanted < 24.0)).sum() > 5
    assert span_errors(points, tolerance, first, last) == pytest.approx(wanted, rel=1e-7)


def test_feet_are_those_of_the_oracle_across_nodes():
    nodes, data = paths()
    away = Data(data.points, data.tolerance, data.segment, np.clip(data.t + 0.35, 0, 1))
    curves = controls(nodes)
    found = follow_feet(curves, nodes, away, steps=4)
    wanted = [
        oracle.follow_foot(curves, nodes.before, nodes.after, point, segment, t, 4)
        for point, segment, t in zip(away.points, away.segment, away.t, strict=True)
    ]
    assert (found.segment != data.segment).any()
    assert found.segment.tolist() == [segment for segment, _ in wanted]
    assert found.t == pytest.approx(np.array([t for _, t in wanted]), abs=1e-9)
    off = [
        oracle.distance(curves[segment], t, point)[1]
        for segment, t, point in zip(found.segment, found.t, found.points, strict=True)
    ]
    assert distances(curves, found) == pytest.approx(np.array(off), abs=1e-9)


@pytest.mark.parametrize("closed", [False, True])
def test_nearest_places_are_those_of_the_oracle(closed):
    nodes, data = paths()
    mine = nodes.path == int(closed)
    curves = controls(nodes)[mine]
    points = data.points[mine[data.segment]]
    u = np.random.default_rng(3).uniform(0, len(curves), len(points))
    wanted = [oracle.nearest(curves, closed, *each, 5) for each in zip(points, u, strict=True)]
    squared = np.full(len(points), np.inf)
    compiled.nearest(
        curves=curves, first=np.array([0, len(curves)]), closed=np.array([closed]),
        owner=np.zeros(len(points), int), points=points, u=u, squared=squared, steps=5,
    )  # fmt: skip
    assert squared == pytest.approx(np.array([best for _, best in wanted]), rel=1e-7, abs=1e-12)
    assert u == pytest.approx(np.array([place for place, _ in wanted]), abs=1e-7)


def chords_of(lines, points, owner):
    """Squared distances of points from the nearest chord of their own polyline, and where that is."""
    first = np.cumsum([0, *map(len, lines)])
    squared, place = np.empty((2, len(points)))
    compiled.nearest_chords(
        vertices=np.concatenate(lines), first=first, owner=owner, points=points, squared=squared, place=place
    )
    return squared, place


def test_nearest_chords_are_the_nearest_of_all():
    rng = np.random.default_rng(8)
    lines = [np.cumsum(rng.normal(size=(size, 2)), axis=0) for size in (2, 3, 40, 700)]
    owner = np.repeat(np.arange(4), 50)
    points = rng.normal(0, 20, (200, 2))
    squared, place = chords_of(lines, points, owner)
    for point, k, found, where in zip(points, owner, squared, place, strict=True):
        chord = min(int(where), len(lines[k]) - 2)
        at = lines[k][chord] + (where - chord) * (lines[k][chord + 1] - lines[k][chord])
        assert np.hypot(*(at - point)) == pytest.approx(np.sqrt(found))
        line = shapely.LineString(lines[k])
        assert shapely.distance(shapely.Point(point), line) == pytest.approx(np.sqrt(found))


@pytest.mark.parametrize("owner", [-1, 1])
def test_points_of_no_polyline_are_refused(owner):
    with pytest.raises((IndexError, ValueError), match=r"owner|no polyline"):
        chords_of([np.eye(2)], np.zeros((1, 2)), np.array([owner]))
    with pytest.raises(ValueError, match="no chord"):
        chords_of([np.zeros((1, 2))], np.zeros((1, 2)), np.array([0]))


@pytest.mark.parametrize("sharp", [False, True])
@pytest.mark.parametrize("steps", [1, 5])
def test_the_polish_is_that_of_the_oracle(steps, sharp):
    nodes, data = paths()
    found, near = polish(nodes, data, steps=steps, sharp=sharp)
    assert (cost(found, near) < cost(nodes, data)).all() or sharp
    for k in range(4):
        part, some, at, samples = subset(nodes, data, np.arange(4) == k)
        wanted, feet = oracle.polish(part, some, steps=steps, sharp=sharp)
        assert found.place[at] == pytest.approx(wanted.place, abs=1e-7)
        # Before the first node and after the last of an open path there is no direction, and no handle.
        used = np.zeros((len(at), 2), bool)
        used[part.start, 1] = used[part.end, 0] = True
        assert found.angle[at][used] == pytest.approx(wanted.angle[used], abs=1e-7)
        assert found.handle[at][used] == pytest.approx(wanted.handle[used], abs=1e-7)
        base = data.segment[samples[0]] - some.segment[0]
        assert near.segment[samples] - base + near.t[samples] == pytest.approx(
            feet.segment + feet.t, abs=1e-6
        )
    assert np.array_equal(found.place[nodes.fixed], nodes.place[nodes.fixed])
    assert found.angle[0, 1] == nodes.angle[0, 1]


def test_a_path_comes_out_the_same_in_any_company():
    nodes, data = paths()
    together, feet_of = polish(nodes, data, steps=6)
    for k in range(4):
        part, some, at, samples = subset(nodes, data, np.arange(4) == k)
        alone, near = polish(part, some, steps=6)
        assert np.array_equal(alone.place, together.place[at])
        assert np.array_equal(near.t, feet_of.t[samples])


def names_of(loop):
    return list(inspect.signature(loop).parameters)


def test_the_stub_names_what_the_loops_take():
    stub = ast.parse((KERNELS / "_compiled.pyi").read_text())
    listed = {node.name: node.args for node in stub.body if isinstance(node, ast.FunctionDef)}
    loops = {name: loop for name, loop in vars(compiled).items() if inspect.isbuiltin(loop)}
    assert set(listed) == set(loops)
    for name, loop in loops.items():
        assert [argument.arg for argument in listed[name].kwonlyargs] == names_of(loop)
        assert not listed[name].args


READ_ONLY = np.empty((2, 4, 2))
READ_ONLY.flags.writeable = False


def spans_of(**changed):
    """Arguments of `fit_spans`, some of them damaged."""
    first, last = np.array([0, 1]), np.array([5, 6])
    good = {"points": wave(), "linear": np.zeros((17, 2)), "first": first, "last": last}
    return good | {"cubics": np.empty((2, 4, 2))} | changed


@pytest.mark.parametrize(
    ("error", "message", "changed"),
    [
        (IndexError, "last has an index that lies outside", {"last": np.array([5, 900])}),
        (IndexError, "first has an index that lies outside", {"first": np.array([-1, 0])}),
        (ValueError, "where it starts or before", {"last": np.array([5, 1])}),
        (ValueError, "first has another size|last has another size", {"last": np.array([5, 6, 7])}),
        (ValueError, "another size", {"cubics": np.empty((1, 4, 2))}),
        (ValueError, "at other places", {"linear": np.zeros((16, 2))}),
        (TypeError, "points has entries of another type", {"points": np.zeros((900, 2), np.float32)}),
        (TypeError, "first has entries of another type", {"first": np.array([0.0, 1.0])}),
        (TypeError, "6 arguments where 5", {"more": 1}),
        ((ValueError, BufferError), "contiguous", {"points": wave()[:, ::-1]}),
        ((ValueError, BufferError), "read-only|writable", {"cubics": READ_ONLY}),
    ],
)
def test_what_does_not_fit_together_is_refused(error, message, changed):
    compiled.fit_spans(**spans_of())
    with pytest.raises(error, match=message):
        compiled.fit_spans(**spans_of(**changed))


def test_what_is_missing_is_named():
    arguments = spans_of()
    del arguments["last"]
    with pytest.raises(TypeError, match="last is missing"):
        compiled.fit_spans(**arguments)
    with pytest.raises(TypeError, match="points is missing"):
        compiled.fit_spans(*arguments.values())


def test_samples_that_lie_mixed_are_refused():
    nodes, data = paths()
    mixed = np.roll(np.arange(len(data.t)), 40)
    with pytest.raises(ValueError, match="follow each other"):
        polish(nodes, Data(*(getattr(data, name)[mixed] for name in data.__slots__)), steps=1)


@pytest.mark.parametrize("first", [[0, 0], [0, 2], [1, 1], [0]])
def test_paths_that_are_not_stretches_of_the_segments_are_refused(first):
    one, point = np.zeros(1), np.zeros((1, 2))
    with pytest.raises(ValueError, match="path"):
        compiled.nearest(
            curves=np.zeros((1, 4, 2)), first=np.array(first), closed=np.zeros(1, bool),
            owner=np.array([0]), points=point, u=one, squared=one.copy(), steps=2,
        )  # fmt: skip


def test_what_is_no_number_does_no_harm():
    points = wave()
    points[30:50] = np.nan
    first = np.arange(0, 80, 8)
    errors = span_errors(points, np.full(900, 0.02), first, first + 60)
    assert np.isnan(errors[:5]).all()
    squared, u = np.full(1, np.inf), np.full(1, np.nan)
    compiled.nearest(
        curves=np.zeros((1, 4, 2)), first=np.array([0, 1]), closed=np.zeros(1, bool),
        owner=np.array([0]), points=np.ones((1, 2)), u=u, squared=squared, steps=3,
    )  # fmt: skip
    assert squared[0] == pytest.approx(2.0)


def test_the_module_is_made_from_these_sources():
    sources = sorted(KERNELS.glob("*.[ch]"))
    if not sources:
        pytest.skip("limner is installed from an archive, which has no sources of its loops")
    digest = hashlib.sha256(b"".join(path.read_bytes() for path in sources)).hexdigest()
    assert compiled.source_digest == digest, "install limner again: its compiled loops are of older sources"

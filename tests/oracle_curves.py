"""The compiled loops of the curve fit once more, plainly: one span, foot, path or polyline at a time.

Written to be read and to be right, not to be fast; least squares and systems of equations are left to NumPy.
What the loops decide by a number stands here with its own copy of it, so that a wrong one is noticed.
"""

import functools
from dataclasses import dataclass, replace

import numpy as np

from limner.curves.data.corners import Corner
from limner.geometry.cubics import derivative, evaluate

# ---- one foot ----


def newton_step(cubic, t, point, longest):
    """Newton's step towards the foot of a point, at most so long; `t` less the step is nearer."""
    (at,), (along,) = evaluate(cubic[None], [t])[0], derivative(cubic[None], [t])[0]
    bend = 6 * ((1 - t) * (cubic[2] - 2 * cubic[1] + cubic[0]) + t * (cubic[3] - 2 * cubic[2] + cubic[1]))
    slope = (at - point) @ along
    curvature = max(along @ along + (at - point) @ bend, 0.3 * along @ along)
    return np.clip(slope / (curvature + 1e-300), -longest, longest)


def follow_foot(curves, before, after, point, segment, t, steps):
    """The foot of a point after so many steps, which may lead into neighbouring segments."""
    for _ in range(steps):
        t -= newton_step(curves[segment], t, point, 0.3)
        if t < 0:
            segment, t = (before[segment], 1.0) if before[segment] >= 0 else (segment, 0.0)
        elif t > 1:
            segment, t = (after[segment], 0.0) if after[segment] >= 0 else (segment, 1.0)
    return segment, t


def distance(cubic, t, point):
    """Unit normal at a foot and signed distance along it; at a segment's end, straight to the point."""
    (at,), (along,) = evaluate(cubic[None], [t])[0], derivative(cubic[None], [t])[0]
    normal = np.array([-along[1], along[0]]) / (np.hypot(*along) + 1e-300)
    if t in (0.0, 1.0) and np.hypot(*(at - point)) > 0:
        normal = (at - point) / np.hypot(*(at - point))
    return normal, (at - point) @ normal


def nearest(curves, closed, point, u, steps):
    """Parameter (segment + t) after so many steps, and the least squared distance on the way."""
    count, best = len(curves), np.inf
    for _ in range(steps):
        which = min(int(u), count - 1)
        t = min(u - which, 1.0)
        best = min(best, ((evaluate(curves[which][None], [t])[0, 0] - point) ** 2).sum())
        u -= newton_step(curves[which], t, point, 0.3)
        u = u % count if closed else min(max(u, 0.0), count)
    return u, best


# ---- one span ----


def _places(points, first, last):
    """Seventeen places, evenly from the first to the last sample, and where among the samples they are."""
    where = np.linspace(first, last, 17)
    return np.stack([np.interp(where, np.arange(len(points)), points[:, k]) for k in (0, 1)], axis=1), where


def _bernstein(t):
    return np.stack([(1 - t) ** 3, 3 * (1 - t) ** 2 * t, 3 * (1 - t) * t**2, t**3], axis=1)


def _linear_fit(places):
    """The cubic through the first and last place that is nearest to the others at even parameters."""
    basis = _bernstein(np.linspace(0, 1, 17))
    ends = places[[0, -1]]
    inner = np.linalg.lstsq(basis[:, 1:3], places - basis[:, [0, 3]] @ ends, rcond=None)[0]
    return np.concatenate([ends[:1], inner, ends[1:]])


def _feet(cubic, t, places):
    """One step of all feet; their normals and signed distances."""
    steps = [newton_step(cubic, one, place, 0.15) for one, place in zip(t, places, strict=True)]
    t = np.clip(t - steps, 0.0, 1.0)
    along = derivative(cubic[None], t)[0]
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1) / np.hypot(*along.T)[:, None]
    return t, normal, ((evaluate(cubic[None], t)[0] - places) * normal).sum(axis=1)


def _improved(cubic, t, normal, off, length):
    """The cubic after a Gauss-Newton step of its inner control points, slightly damped and not too long."""
    basis = _bernstein(t)
    rows = np.concatenate([basis[:, 1, None] * normal, basis[:, 2, None] * normal], axis=1)
    change = np.linalg.solve(rows.T @ rows + 1e-3 * np.eye(4), -rows.T @ off)
    change *= min(1.0, 0.3 * length / np.abs(change).max())
    return np.stack([cubic[0], cubic[1] + change[:2], cubic[2] + change[2:], cubic[3]])


def fit_span(points, first, last):
    """The cubic of a span."""
    places, _ = _places(points, first, last)
    cubic, t = _linear_fit(places), np.linspace(0, 1, 17)
    for _ in range(3):
        t, normal, off = _feet(cubic, t, places)
        cubic = _improved(cubic, t, normal, off, np.hypot(*np.diff(places, axis=0).T).sum())
    return cubic


def span_error(points, tolerance, first, last):
    """Largest distance of the places from the cubic in tolerances, left as soon as it is clear enough."""
    places, where = _places(points, first, last)
    allowed = tolerance[(where + 0.5).astype(int)]
    cubic, t = _linear_fit(places), np.linspace(0, 1, 17)
    error = np.hypot(*(evaluate(cubic[None], t)[0] - places).T).max() / allowed.min()
    if error <= 0.1:
        return error
    for step in range(4):
        t, normal, off = _feet(cubic, t, places)
        if step:
            error = (np.abs(off) / allowed).max()
            if error <= 0.1 or error >= 24.0:
                break
        cubic = _improved(cubic, t, normal, off, np.hypot(*np.diff(places, axis=0).T).sum())
    return error


# ---- one path ----


@dataclass
class _Path:
    """Nodes of one path as in `limner.curves.refine.paths`, its samples' feet, and what follows from them."""

    nodes: object
    curves: np.ndarray
    segment: np.ndarray
    t: np.ndarray
    normal: np.ndarray
    off: np.ndarray


def controls(nodes):
    """Control points of the segments of nodes, directions and handles."""
    cubics = []
    for i, j, straight in zip(nodes.start, nodes.end, nodes.straight, strict=True):
        a, b = nodes.place[i], nodes.place[j]
        out = nodes.handle[i, 1] * np.array([np.cos(nodes.angle[i, 1]), np.sin(nodes.angle[i, 1])])
        into = nodes.handle[j, 0] * np.array([np.cos(nodes.angle[j, 0]), np.sin(nodes.angle[j, 0])])
        if straight:
            out = into = (b - a) / 3
        cubics.append([a, a + out, b - into, b])
    return np.array(cubics)


def _seen(nodes, data, segment, t, steps):
    curves = controls(nodes)
    feet = [
        follow_foot(curves, nodes.before, nodes.after, point, k, one, steps)
        for point, k, one in zip(data.points, segment, t, strict=True)
    ]
    found = [distance(curves[k], one, point) for (k, one), point in zip(feet, data.points, strict=True)]
    segment, t = np.array([k for k, _ in feet]), np.array([one for _, one in feet])
    return _Path(nodes, curves, segment, t, np.array([n for n, _ in found]), np.array([d for _, d in found]))


def _weights(path, data, sharp):
    share = np.minimum(np.abs(path.off) / data.tolerance, 3.0)
    return (0.05 + share**4 if sharp else 1.0) / data.tolerance**2


def _changes_of_places(nodes, k, t):
    """How a segment's place at `t` changes with x, y, direction and handle of its ends, shape (8, 2)."""
    i, j = nodes.start[k], nodes.end[k]
    b0, b1, b2, b3 = _bernstein(np.array([t]))[0]
    x, y = np.eye(2)
    if nodes.straight[k]:
        none = np.zeros(2)
        return np.array([(1 - t) * x, (1 - t) * y, none, none, t * x, t * y, none, none])
    out, into = nodes.angle[i, 1], nodes.angle[j, 0]
    along_out, along_in = np.array([np.cos(out), np.sin(out)]), np.array([np.cos(into), np.sin(into)])
    across_out, across_in = along_out[::-1] * [-1, 1], along_in[::-1] * [-1, 1]
    return np.array([
        (b0 + b1) * x, (b0 + b1) * y, b1 * nodes.handle[i, 1] * across_out, b1 * along_out,
        (b2 + b3) * x, (b2 + b3) * y, -b2 * nodes.handle[j, 0] * across_in, -b2 * along_in,
    ])  # fmt: skip


def _segment_equations(path, data_weights, k):
    """Normal matrix and right side of segment `k`, with the pull on handles and the say of straight lines."""
    nodes, mine = path.nodes, path.segment == k
    i, j = nodes.start[k], nodes.end[k]
    feet = zip(path.t[mine], path.normal[mine], strict=True)
    rows = np.array([_changes_of_places(nodes, k, t) @ normal for t, normal in feet]).reshape(-1, 8)
    weights = data_weights[mine]
    matrix, right = rows.T @ (weights[:, None] * rows), rows.T @ (weights * path.off[mine])
    chord = nodes.place[j] - nodes.place[i]
    length = np.hypot(*chord)
    if not nodes.straight[k]:
        pull = 1e-8 * matrix[[0, 1, 4, 5], [0, 1, 4, 5]].sum()
        for column, handle in ((3, nodes.handle[i, 1]), (7, nodes.handle[j, 0])):
            matrix[column, column] += pull
            right[column] += pull * (handle - length / 2.7)
        return matrix, right
    weight = 100.0 * (matrix[0, 0] + matrix[1, 1]) * length**2
    across = np.array([-chord[1], chord[0]]) / length**2
    for column, node, angle in ((2, i, nodes.angle[i, 1]), (6, j, nodes.angle[j, 0])):
        off = np.angle(np.exp(1j * (angle - np.arctan2(chord[1], chord[0]))))
        row = np.concatenate([across, [0, 0], -across, [0, 0]])
        row[column] = 1.0
        matrix += nodes.smooth[node] * weight * np.outer(row, row)
        right += nodes.smooth[node] * weight * off * row
    return matrix, right


def _free(nodes, node, side, straight):
    """Whether x, y, direction and handle of a segment's end may change."""
    moves = not nodes.fixed[node]
    return moves, moves, not nodes.held[node, side] and (not straight or nodes.smooth[node]), not straight


def _change(path, weights, damping):
    """Changes of each node: x, y, one direction, handle before, handle after."""
    nodes = path.nodes
    size = 5 * len(nodes.place)
    whole, gradient = np.zeros((size, size)), np.zeros(size)
    for k, (i, j) in enumerate(zip(nodes.start, nodes.end, strict=True)):
        at = np.array([5 * i, 5 * i + 1, 5 * i + 2, 5 * i + 4, 5 * j, 5 * j + 1, 5 * j + 2, 5 * j + 3])
        matrix, right = _segment_equations(path, weights, k)
        free = np.array([*_free(nodes, i, 1, nodes.straight[k]), *_free(nodes, j, 0, nodes.straight[k])])
        whole[np.ix_(at, at)] += matrix * np.outer(free, free)
        gradient[at] += right * free
    own = np.arange(size)
    whole[own, own] *= 1.0 + damping
    whole[own, own] += whole[own, own] <= 0.0  # an unknown without a say keeps its value
    return np.linalg.solve(whole, -gradient).reshape(-1, 5)


def _moved(nodes, change):
    """The nodes after a change, all of it made smaller where a node would move or turn too far."""
    chord = np.hypot(*(nodes.place[nodes.end] - nodes.place[nodes.start]).T)
    worst = 1.0
    for i, (dx, dy, turn, _, _) in enumerate(change):
        room = 0.2 * chord[(nodes.start == i) | (nodes.end == i)].min()
        room = max(room, 1e-12 * (1.0 + np.abs(nodes.place[i]).max()))
        worst = max(worst, np.hypot(dx, dy) / room, abs(turn) / 0.25)
    change = change / worst
    place, angle = nodes.place + change[:, :2], nodes.angle + change[:, 2:3]
    handle = nodes.handle + change[:, 3:]
    chord = np.hypot(*(place[nodes.end] - place[nodes.start]).T)
    handle[nodes.start, 1] = np.clip(handle[nodes.start, 1], 0.03 * chord, 1.2 * chord)
    handle[nodes.end, 0] = np.clip(handle[nodes.end, 0], 0.03 * chord, 1.2 * chord)
    return replace(nodes, place=place, angle=angle, handle=handle)


def polish(nodes, data, *, steps, sharp=False):
    """The nodes and feet of one path after so many damped Gauss-Newton steps."""
    path = _seen(nodes, data, data.segment, data.t, 3)
    weights, damping = _weights(path, data, sharp), 1e-3
    for _ in range(steps):
        cost = (weights * path.off**2).sum()
        trial = _moved(path.nodes, _change(path, weights, damping))
        seen = _seen(trial, data, path.segment, path.t, 2)
        reached = (weights * seen.off**2).sum()
        if reached >= cost:
            if damping > 10.0:
                break
            damping = min(damping * 8.0, 1e3)
            continue
        path, damping = seen, max(damping * 0.2, 1e-7)
        if cost - reached < 1e-3 * cost:
            break
        weights = _weights(path, data, sharp)
    return path.nodes, replace(data, segment=path.segment, t=path.t)


# ---- the corners of one polyline ----


def _at(samples, index):
    """Samples; beyond the ends of an open polyline there are none."""
    return samples.points[index % len(samples.points) if samples.closed else index]


def _arm(samples, i, side, skip, length):
    """Samples skip .. skip + length - 1 steps from sample `i` on one side."""
    return _at(samples, i + side * np.arange(skip, skip + length))


@functools.cache
def _place_and_slope(skip, length, degree):
    """Weights of an arm's samples for place and slope at zero of the polynomial nearest to them."""
    return np.linalg.pinv(np.arange(skip, skip + length)[:, None] ** np.arange(degree + 1.0))[:2]


def _extrapolated(samples, i, side, skip, length, degree):
    """Place and forward direction at sample `i` by a polynomial through an arm."""
    place, slope = _place_and_slope(skip, length, degree) @ _arm(samples, i, side, skip, length)
    return place, side * slope


def _turn(before, after):
    return np.degrees(abs(np.arctan2(before[0] * after[1] - before[1] * after[0], before @ after)))


def _candidates(samples, skip_by, length_by, enough):
    """Peaks of the turn as seen along arms of one kind: (turn, sample, skip, length, least turn)."""
    n, step = len(samples.points), samples.step
    tolerance = np.median(samples.tolerance)
    skip = max(round(max(skip_by * tolerance, 1.5 * samples.spacing) / step), 1)
    length = max(round(max(length_by * tolerance, 5.0 * samples.spacing) / step), 4)
    reach = skip + length
    if 3 * reach > n:
        return []
    seen = np.arange(n) if samples.closed else np.arange(reach, n - reach)
    slopes = _place_and_slope(skip, length, 2)[1]
    steps = np.arange(skip, skip + length)
    before, after = (side * (slopes @ _at(samples, seen[:, None] + side * steps)) for side in (-1, 1))
    turn = np.zeros(n)
    turn[seen] = [_turn(*both) for both in zip(before, after, strict=True)]
    spread = np.hypot.reduce(slopes) * np.sqrt(2.0 * max(samples.spacing / step, 1.0))
    least = max(enough, 4.0 * np.degrees(spread * samples.noise / step))
    window = np.arange(-max(reach // 2, 1), max(reach // 2, 1) + 1)
    found = []
    for i in np.flatnonzero(turn > least):
        around = (i + window) % n if samples.closed else np.clip(i + window, 0, n - 1)
        if turn[i] >= turn[around].max():
            found.append((turn[i], i, skip, length, least))
    return found


def _room(samples, taken, i):
    """Samples to the nearest corner behind and ahead."""
    n = len(samples.points)
    ways = [((i - k) % n, (k - i) % n) if samples.closed else (i - k, k - i) for k in taken]
    behind = min((b for b, _ in ways if b >= 0), default=n if samples.closed else i)
    ahead = min((a for _, a in ways if a >= 0), default=n if samples.closed else n - 1 - i)
    return (behind, ahead) if samples.closed else (min(behind, i), min(ahead, n - 1 - i))


def _side(samples, i, side, skip, length, room):
    """Place and direction at sample `i` from one side: by a straight arm, if any, else a short one."""
    for share in (12.0, 5.0, 2.0):
        longer = min(round(share * length), room - skip)
        if longer < 8 or longer <= length:
            continue
        arm = _arm(samples, i, side, skip, longer)
        middle = arm.mean(axis=0)
        along = np.linalg.svd(arm - middle)[2][0]
        off = np.abs((arm - middle) @ [-along[1], along[0]])
        if off.max() <= 0.3 * samples.tolerance[i]:
            return middle, along * np.sign((arm[-1] - arm[0]) @ along) * side
    return _extrapolated(samples, i, side, skip, length, 2 if length >= 6 else 1)


def _measured(samples, i, skip, length, room):
    """The corner at sample `i`; the sharper it is, the more around it is left out."""
    rounded = max(2.2 * samples.tolerance[i], 2.6 * samples.spacing) / samples.step
    for _ in range(3):
        if min(length, min(room) - skip) < 3:
            return None
        (a, before), (b, after) = (
            _side(samples, i, side, skip, min(length, space - skip), space)
            for side, space in zip((-1, 1), room, strict=True)
        )
        turn = _turn(before, after)
        if turn < 5.0:
            return None
        cross = before[0] * after[1] - before[1] * after[0]
        tip = a + before * ((b - a)[0] * after[1] - (b - a)[1] * after[0]) / cross
        inner = max(np.sin(np.radians(180.0 - turn) / 2), 0.25)
        wider = min(round(rounded * max(0.707 / inner, 1.0)), min(room) - 4)
        if wider <= skip:
            break
        skip = wider
    near = np.arange(i - 2 * skip, i + 2 * skip + 1)
    n = len(samples.points)
    near = near % n if samples.closed else near[(near >= 0) & (near < n)]
    away = np.hypot(*(tip - samples.points[near]).T)
    at, least = int(near[away.argmin()]), away.min()
    share = min(1.0, 0.85 * samples.tolerance[at] / max(least, 1e-300))
    tip = samples.points[at] + share * (tip - samples.points[at])
    return Corner(at, (float(tip[0]), float(tip[1])), float(turn), skip)


def find_corners(samples):
    """Corners in order: the strongest first, the others where they hold with the room that is left."""
    found = [c for arm in ((1.5, 6.0, 26.0), (1.2, 3.0, 40.0)) for c in _candidates(samples, *arm)]
    apart = max(2.0 * np.median(samples.tolerance), 3.0 * samples.spacing) / samples.step
    apart = max(round(apart), 2)
    kept = []
    for _, i, skip, length, least in sorted(found, key=lambda c: (-c[0], c[1])):
        taken = [corner.index for corner in kept]
        room = _room(samples, taken, i)
        if min(room) <= apart:
            continue
        corner = _measured(samples, i, skip, length, room)
        if corner and corner.turn_deg >= least and min(_room(samples, taken, corner.index)) > apart:
            kept.append(corner)
    return sorted(kept, key=lambda corner: corner.index)


# ---- a calm line ----


def calm(points, target, band, weight, stiff, reach, rounds):
    """The line of least squared third differences near a target, held within a band around the points."""
    third = np.zeros((len(points) - 3, len(points)))
    for k in range(len(third)):
        third[k, k : k + 4] = -1, 3, -3, 1
    rigid = third.T @ (stiff[: len(third), None] * third)
    heavy = weight.copy()
    for _ in range(rounds):
        line = np.linalg.solve(np.diag(heavy) + rigid, heavy[:, None] * target)
        along = np.gradient(line, axis=0)
        off = line - points
        off = np.abs(along[:, 0] * off[:, 1] - along[:, 1] * off[:, 0]) / np.hypot(*along.T) / band
        off[weight <= 0.5] = 0.0
        near = [off[max(i - reach, 0) : i + reach + 1].max() for i in range(len(off))]
        worst = np.minimum(near, 10.0)
        out = (worst > 1.02) & (weight > 0.5)
        if not out.any():
            break
        heavy = np.where(out, heavy * worst**2, heavy)
    return line

"""What speaks for an axis of a half, what against it, and which reading of a drawing is believed."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from helpers_symmetry import MM_PER_PX, WIDTH_PX, arc, assert_axis, half_face, inked, turned
from limner.model.geometry import Axis
from limner.regions.centrelines.build import build_graph
from limner.symmetry.find.axis import find_axis, is_half_drawn, slack_of
from limner.symmetry.find.evidence import line_ends, line_samples
from limner.symmetry.find.half import HalfCandidate, half_candidates
from limner.symmetry.find.whole import whole_candidates
from limner.symmetry.frame import Line

Floats = NDArray[np.float64]

X, Y = 220.0, 240.0


def evidence_at(lines: list[Floats], widths: list[float] | None = None) -> float | None:
    """The most evidence for an upright axis through (X, Y); None where there is no such candidate."""
    ink = inked(turned(lines, 0, X, Y), widths)
    graph = build_graph(ink)
    samples = line_samples(graph)
    found = half_candidates(ink, samples, line_ends(ink, graph), slack_of(graph, samples))
    near = [
        candidate.evidence
        for candidate in found
        if abs(candidate.line.angle_deg - 90) < 2 and abs(abs(candidate.line.offset) - X * MM_PER_PX) < 1.5
    ]
    return max(near, default=None)


def surely(value: float | None) -> float:
    assert value is not None
    return value


def test_evidence_is_weighed_on_a_scale_of_its_own() -> None:
    # The module's statement: one half at 4.4, and a logistic curve about it.
    assert HalfCandidate(Line(0.0, 0.0), 4.4).score == pytest.approx(0.5)
    assert HalfCandidate(Line(0.0, 0.0), 5.4).score == pytest.approx(1 / (1 + math.exp(-1)))
    assert HalfCandidate(Line(0.0, 0.0), -1000.0).score == pytest.approx(0.0, abs=1e-9)
    assert Line(math.radians(10), 0.0).angle_deg == pytest.approx(100.0)


def test_a_half_face_is_believed_beyond_doubt() -> None:
    ink = inked(turned(half_face(), 0, X, Y))
    assert find_axis(ink, build_graph(ink)).axis.score > 0.99


def test_every_further_line_on_the_axis_is_evidence() -> None:
    face = half_face()
    assert surely(evidence_at(face)) > surely(evidence_at([face[0], face[1], face[3]])) + 1.0


def test_lines_that_arrive_aslant_are_less_evidence() -> None:
    face = half_face()
    slant = [face[0], face[1], np.array([[0.0, -60.0], [30.0, -20.0]]), face[3]]
    square = [face[0], face[1], np.array([[0.0, -60.0], [30.0, -60.0]]), face[3]]
    assert surely(evidence_at(square)) > surely(evidence_at(slant)) + 1.0


def test_free_ends_elsewhere_speak_against_an_axis() -> None:
    face = half_face()
    closed = [face[0], face[3]]
    whisker = np.array([[60.0, 20.0], [110.0, 40.0]])
    # All ends on it, or two of them elsewhere: that is worth 3.5 and as much for each as the module states.
    gained = surely(evidence_at(closed)) - surely(evidence_at([*closed, whisker]))
    assert gained > 3.0


def test_a_thin_line_along_it_speaks_for_an_axis() -> None:
    face = half_face()
    # The half of a line that was cut along its middle, on two lines that end there.
    part = [face[0], face[3]]
    stem = np.array([[1.5, -120.0], [1.5, 120.0]])
    with_stem = surely(evidence_at([*part, stem], [WIDTH_PX] * 2 + [3.0]))
    assert with_stem > surely(evidence_at(part)) + 1.0


def test_ink_beyond_the_line_speaks_against_it() -> None:
    face = half_face()
    # A stroke that lies a little beyond the axis, within what lines may run over.
    beyond = np.array([[-6.0, -110.0], [-6.0, -60.0]])
    assert surely(evidence_at([*face, beyond])) < surely(evidence_at(face)) - 2.0
    # And one that lies well beyond: no candidate at all, so the drawing is not half.
    far = arc(-60, -40, 25, 15, 0, 360)
    assert evidence_at([*face, far]) is None


def shell() -> list[Floats]:
    """The right half of a shell that is its own mirror image about the line across, too."""
    return [arc(0, 0, 120, 160, -90, 90), arc(0, 0, 70, 95, -90, 90), arc(45, 0, 16, 12, 0, 360)]


def test_of_two_readings_the_upright_one_is_believed() -> None:
    upright = inked(turned(shell(), 0, 180, 240))
    axis = find_axis(upright, build_graph(upright)).axis
    assert axis.how == "half"
    assert_axis(axis, 90, 180, 240, degrees=0.5, px=1.6)
    lying = inked(turned(shell(), 90, 240, 180))
    axis = find_axis(lying, build_graph(lying)).axis
    assert axis.how == "whole"
    assert_axis(axis, 90, 240, 180, degrees=0.5, px=1.6)


def test_a_drawing_with_a_sixth_of_it_across_is_no_half() -> None:
    face = half_face()
    ink = inked(turned([*face, arc(-60, -40, 45, 30, 0, 360)], 0, X, Y))
    by_hand = Axis(X * MM_PER_PX, Y * MM_PER_PX, 90.0, 1.0, "by hand")
    assert not is_half_drawn(build_graph(ink), by_hand)
    assert is_half_drawn(build_graph(inked(turned(face, 0, X, Y))), by_hand)


def test_in_a_ring_with_a_face_the_face_decides() -> None:
    features = [
        arc(-45, -35, 14, 10, 0, 360),
        arc(45, -35, 14, 10, 0, 360),
        arc(0, 50, 45, 25, 10, 170),
        np.array([[0.0, -15.0], [0.0, 15.0]]),
    ]
    ink = inked(turned([arc(0, 0, 170, 170, 0, 360), *features], 20, 240, 240))
    axis = find_axis(ink, build_graph(ink)).axis
    assert axis.how == "whole"
    assert_axis(axis, 110, 240, 240, degrees=0.5, px=1.6)


def test_the_best_axis_of_a_whole_face_is_found_at_any_turn() -> None:
    half = half_face()
    face = [*half, *(line * [-1, 1] for line in half)]
    for turn in (0.0, 33.0, 75.0, 120.0, 165.0):
        ink = inked(turned([0.9 * line for line in face], turn, 240, 240))
        best = whole_candidates(line_samples(build_graph(ink)))[0]
        assert abs((best.line.angle_deg - 90 - turn + 90) % 180 - 90) < 0.5
        assert best.score > 0.95


def test_much_more_ink_on_one_side_lowers_the_score() -> None:
    # One side's circle is drawn three times, so close that all of it finds a partner, though not alike.
    pair = [arc(x, 0, 60, 90, 0, 360) for x in (-80.0, 80.0)]
    again = [arc(80, 0, 60 + more, 90 + more, 0, 360) for more in (-4.0, 4.0)]

    def score(lines: list[Floats]) -> float:
        ink = inked(turned(lines, 0, 240, 240), [1.6] * len(lines))
        best = [
            candidate.score
            for candidate in whole_candidates(line_samples(build_graph(ink)))
            if abs(candidate.line.angle_deg - 90) < 1 and abs(abs(candidate.line.offset) - 60) < 1
        ]
        return max(best, default=0.0)

    assert score(pair) > 0.95
    assert score([*pair, *again]) < 0.4

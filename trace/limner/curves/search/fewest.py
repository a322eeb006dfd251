"""The fewest segments for each of many runs.

Method: `plan` says where the nodes of each run go for every number of segments; `polish` moves
nodes, tangents and handles together; a run that then lies within its tolerance is tried with fewer
segments, another one with more, until the fewest is known. All runs advance together, in rounds, and do
not influence each other.

Limits: the fewest as found by plan and polish; a global optimum is not proven.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from limner.curves.plan.candidates import Plan, Run, plan_runs
from limner.curves.refine.straight import is_line
from limner.curves.search.trials import FROM_PLAN, RunFit, Wish, fit_trials

__all__ = ["search_runs"]


# So many numbers of segments are tried next to each other, but none of which the plan is worse than this.
SIDE_BY_SIDE = 3
HOPELESS = 4.0
# Rounds of trying fewer and more segments; nearly all runs are settled after four.
ROUNDS = 8


@dataclass(slots=True)
class _State:
    """What is known about one run.

    Parameters
    ----------
    plan : Plan
    next : list of int
        Numbers of segments to try.
    failed : int
        The largest number that failed.
    held : int or None
        The smallest number that held.
    best : RunFit or None
        The best fit so far.
    """

    plan: Plan
    next: list[int]
    failed: int
    held: int | None = None
    best: RunFit | None = None

    @staticmethod
    def of(run: Run, plan: Plan) -> "_State":
        """Start with what the plan says is enough, and next to it with one segment fewer."""
        least = 2 if run.loop else 1
        able = [k for k in plan.error if k >= least]
        count = min((k for k in able if plan.error[k] <= 1.0), default=max(able))
        fewer = [k for k in able if k == count - 1 and plan.error[k] <= HOPELESS]
        return _State(plan, [count, *fewer], least - 1)

    def note(self, count: int, fit: RunFit) -> None:
        """Learn from one fit."""
        if fit.error <= 1.0:
            self.held = count if self.held is None else min(self.held, count)
            if self.best is None or self.best.error > 1.0 or len(fit.segments) <= len(self.best.segments):
                self.best = fit
        else:
            self.failed = max(self.failed, count)
            if self.best is None or (self.best.error > 1.0 and fit.error < self.best.error):
                self.best = fit

    def found(self) -> RunFit:
        """The best fit; the first round tries each run."""
        assert self.best is not None
        return self.best

    def choose(self, count: int, error: float) -> None:
        """What to try next, given the error of one fit; nothing when the fewest are known."""
        able = [k for k in self.plan.error if k > self.failed and (self.held is None or k < self.held)]
        # The error of a smooth fit goes with the sixth power of the length of its segments.
        guess = count * max(error, 1e-6) ** (1.0 / 6.0)
        wanted = SIDE_BY_SIDE if self.held is None else 1
        self.next = sorted(able, key=lambda k: (abs(k - guess), k))[:wanted]


def search_runs(runs: Sequence[Run]) -> list[RunFit]:
    """Fit every run by the fewest segments."""
    lines = [_one_line(run) for run in runs]
    bent = [run for run, line in zip(runs, lines, strict=True) if line is None]
    found = iter(_search(bent) if bent else [])
    return [next(found) if line is None else line for line in lines]


def _one_line(run: Run) -> RunFit | None:
    """The run as one straight line, where it is one."""
    if run.cyclic or run.start_angle is not None or run.end_angle is not None or len(run.forced):
        return None
    chord = run.points[-1] - run.points[0]
    length2 = float(chord @ chord)
    if length2 == 0.0:
        return None
    rest = run.points - run.points[0]
    t = rest @ chord / length2
    off = np.hypot(*(rest - np.clip(t, 0.0, 1.0)[:, None] * chord).T) / run.tolerance
    if not is_line(float(off.max()), float(np.sqrt((off**2).mean()))):
        return None
    ends = run.points[[0, -1]]
    segment = np.stack([ends[0], ends[0] + chord / 3.0, ends[1] - chord / 3.0, ends[1]])
    return RunFit(segment[None], np.ones(1, bool), np.clip(t, 0.0, 1.0), float(off.max()))


def _search(runs: list[Run]) -> list[RunFit]:
    states = [_State.of(run, plan) for run, plan in zip(runs, plan_runs(runs), strict=True)]
    for _ in range(ROUNDS):
        trials = [(k, count) for k, state in enumerate(states) for count in state.next]
        if not trials:
            break
        chains = [Wish(states[k].plan.nodes(count)) for k, count in trials]
        fits = fit_trials([runs[k] for k, _ in trials], chains, FROM_PLAN)
        for (k, count), fit in zip(trials, fits, strict=True):
            states[k].note(count, fit)
        first = {k: (count, fit.error) for (k, count), fit in reversed(list(zip(trials, fits, strict=True)))}
        for k, (count, error) in first.items():
            states[k].choose(count, error)
    return [state.found() for state in states]

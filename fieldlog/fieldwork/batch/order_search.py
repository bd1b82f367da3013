"""Searching the best order: exact for few turns, insertion and local search for many. Deterministic."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

__all__ = ["MOST_EXACT", "Problem", "Score", "best_order", "score_of"]

MOST_EXACT = 10
# Counted in turns looked at, not in seconds: the same batch gives the same order on every laptop. Forty
# turns take about a third of a second on two slow cores.
_MOST_STEPS = 700_000
_SLACK = 1e-9

Score = tuple[int, float, float]
"""Limits broken, minutes beyond them, time of the end: smaller is better, compared in this order."""


@dataclass(frozen=True)
class Problem:
    """Turns numbered from 0, all times in minutes.

    A turn starts no sooner than ``earliest``. Starting later than ``leave_by`` or ``usual_until`` breaks one
    limit each; so does a turn of ``not_last`` that is the last. ``first`` is the changing before a turn that
    comes first, ``changing[i][j]`` that between turns i and j.
    """

    start: float
    work: tuple[float, ...]
    earliest: tuple[float, ...]
    leave_by: tuple[float, ...]
    usual_until: tuple[float, ...]
    not_last: tuple[bool, ...]
    first: tuple[float, ...]
    changing: tuple[tuple[float, ...], ...]


def best_order(problem: Problem, *, fixed: int) -> tuple[list[int], bool]:
    """Return the best order and whether it is proven; the first ``fixed`` turns stay where they are."""
    if len(problem.work) - fixed <= MOST_EXACT:
        return _exact(problem, fixed), True
    return _local(problem, fixed), False


def score_of(problem: Problem, order: Sequence[int]) -> Score:
    """Return the score of a whole order."""
    state, before = _begin(problem), None
    for position, i in enumerate(order):
        state = _after(problem, state, before, i, closing=position == len(order) - 1)
        before = i
    return state


def _begin(problem: Problem) -> Score:
    return (0, 0.0, problem.start)


def _after(problem: Problem, state: Score, before: int | None, i: int, *, closing: bool) -> Score:
    broken, beyond, now = state
    now += problem.first[i] if before is None else problem.changing[before][i]
    now = max(now, problem.earliest[i])
    for limit in (problem.leave_by[i], problem.usual_until[i]):
        if now > limit + _SLACK:
            broken += 1
            beyond += now - limit
    if closing and problem.not_last[i]:
        broken += 1
    return (broken, beyond, now + problem.work[i])


class _Label:
    """A way to have done a set of turns: its state, its last turn, and the label it came from."""

    __slots__ = ("before", "last", "state")

    def __init__(self, state: Score, last: int, before: _Label | None) -> None:
        self.state = state
        self.last = last
        self.before = before


def _exact(problem: Problem, fixed: int) -> list[int]:
    """Dynamic programme over sets of turns done and the last of them (Held and Karp 1962, from memory).

    Where turns must wait, one label a state is not enough: a later but less broken way may still win, so
    every label that no other beats in both is kept. Starting sooner never breaks more, which is why a label
    behind in both can never come to the front again.
    """
    free = range(fixed, len(problem.work))
    state, before = _begin(problem), None
    for i in range(fixed):
        state = _after(problem, state, before, i, closing=not free and i == fixed - 1)
        before = i
    if not free:
        return list(range(fixed))
    size = len(free)
    layer = {
        (1 << i, i): [_Label(_after(problem, state, before, i, closing=size == 1), i, None)] for i in free
    }
    for done_count in range(2, size + 1):
        following: dict[tuple[int, int], list[_Label]] = {}
        for (done, last), labels in layer.items():
            for i in free:
                if done >> i & 1:
                    continue
                place = following.setdefault((done | 1 << i, i), [])
                for label in labels:
                    reached = _after(problem, label.state, last, i, closing=done_count == size)
                    _keep(place, _Label(reached, i, label))
        layer = following
    best: _Label | None = min(
        (label for labels in layer.values() for label in labels), key=lambda label: label.state
    )
    tail = []
    while best is not None:
        tail.append(best.last)
        best = best.before
    return [*range(fixed), *reversed(tail)]


def _keep(place: list[_Label], new: _Label) -> None:
    broken, end = new.state[:2], new.state[2]
    if any(old.state[:2] <= broken and old.state[2] <= end for old in place):
        return
    place[:] = [old for old in place if not (broken <= old.state[:2] and end <= old.state[2])]
    place.append(new)


class _Budget:
    def __init__(self, steps: int) -> None:
        self.steps = steps


def _local(problem: Problem, fixed: int) -> list[int]:
    budget = _Budget(_MOST_STEPS)
    free = list(range(fixed, len(problem.work)))
    urgent = sorted(free, key=lambda i: (min(problem.leave_by[i], problem.usual_until[i]), i))
    starts = [_inserted(problem, fixed, seed, budget) for seed in (urgent, free)]
    found = [_improved(problem, order, fixed, budget) for order in starts]
    best, best_score = min(found, key=lambda pair: pair[1])
    # The seed is fixed on purpose: a plan must not differ between two looks at it.
    shuffle = random.Random(1)  # noqa: S311 (nothing secret)
    while budget.steps > 0:
        order, score = _improved(problem, _kicked(best, fixed, shuffle), fixed, budget)
        if score < best_score:
            best, best_score = order, score
    return best


def _inserted(problem: Problem, fixed: int, seed: Sequence[int], budget: _Budget) -> list[int]:
    order = list(range(fixed))
    for i in seed:
        candidates = [[*order[:place], i, *order[place:]] for place in range(fixed, len(order) + 1)]
        budget.steps -= len(candidates) * len(order)
        order = min(candidates, key=lambda candidate: score_of(problem, candidate))
    return order


def _improved(problem: Problem, order: list[int], fixed: int, budget: _Budget) -> tuple[list[int], Score]:
    prefix = _prefix(problem, order)
    best = prefix[-1]
    improved = True
    while improved and budget.steps > 0:
        improved = False
        for move in _moves(len(order), fixed):
            candidate = _moved(order, move)
            same = move[1]
            budget.steps -= len(order) - same
            score = _score_from(problem, candidate, same, prefix[same], best)
            if score < best:
                order, best, improved = candidate, score, True
                prefix = _prefix(problem, order)
            if budget.steps <= 0:
                break
    return order, best


def _prefix(problem: Problem, order: Sequence[int]) -> list[Score]:
    states = [_begin(problem)]
    for position, i in enumerate(order):
        before = order[position - 1] if position else None
        states.append(_after(problem, states[-1], before, i, closing=position == len(order) - 1))
    return states


def _score_from(problem: Problem, order: Sequence[int], same: int, state: Score, bound: Score) -> Score:
    # The same as score_of from place ``same`` on, written out because it is run a million times.
    broken, beyond, now = state
    changing, first, earliest = problem.changing, problem.first, problem.earliest
    leave_by, usual_until, work = problem.leave_by, problem.usual_until, problem.work
    before = order[same - 1] if same else -1
    for i in order[same:]:
        now += first[i] if before < 0 else changing[before][i]
        if now < earliest[i]:  # noqa: PLR1730 (a call of max costs a third of the search)
            now = earliest[i]
        if now > leave_by[i] + _SLACK:
            broken += 1
            beyond += now - leave_by[i]
        if now > usual_until[i] + _SLACK:
            broken += 1
            beyond += now - usual_until[i]
        if broken > bound[0]:
            return (broken, beyond, math.inf)
        now += work[i]
        before = i
    if problem.not_last[before]:
        broken += 1
    return (broken, beyond, now)


Move = tuple[int, int, int, int]
"""Kind, first place that changes, and the two places that say how."""
_REVERSE, _SHIFT_BACK, _SHIFT_ON = 0, 1, 2


def _moves(n: int, fixed: int) -> Iterator[Move]:
    for i in range(fixed, n):
        for length in (1, 2, 3):
            if i + length > n:
                break
            for to in range(fixed, i):
                yield (_SHIFT_BACK, to, i, length)
            for to in range(i + length + 1, n + 1):
                yield (_SHIFT_ON, i, to, length)
        for end in range(i + 2, n + 1):
            yield (_REVERSE, i, end, 0)


def _moved(order: list[int], move: Move) -> list[int]:
    kind, place, other, length = move
    if kind == _REVERSE:
        return [*order[:place], *order[place:other][::-1], *order[other:]]
    if kind == _SHIFT_BACK:
        block = order[other : other + length]
        return [*order[:place], *block, *order[place:other], *order[other + length :]]
    block = order[place : place + length]
    return [*order[:place], *order[place + length : other], *block, *order[other:]]


def _kicked(order: list[int], fixed: int, shuffle: random.Random) -> list[int]:
    a, b, c = sorted(shuffle.sample(range(fixed + 1, len(order)), 3))
    return [*order[:fixed], *order[b:c], *order[a:b], *order[fixed:a], *order[c:]]

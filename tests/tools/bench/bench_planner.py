"""A promise over twelve boards against one plain pass over the bench, written out in one loop."""

from __future__ import annotations

import math
import random
from datetime import datetime

from quotes.planner import BenchState, forecast, from_json
from tests.planner.samples import sample
from tests.tools.bench import Ratio, measure

DRAWS = 200


def ratios() -> list[Ratio]:
    state = from_json(sample("103-26"))
    assert len(state.boards) == 12
    ours = [hour // 24 for hour in plain_pass(state)]
    most = max(max(days) for days in forecast(state, DRAWS).days.values())
    assert 0 <= min(ours) <= max(ours) <= most + 7
    return [
        measure(
            f"a promise over 12 boards, {DRAWS} draws",
            ours=lambda: forecast(state, DRAWS),
            floor=lambda: plain_pass(state),
            floor_words="one future: at each step all boards are looked through by the rule, minutes and cures drawn",
            most=150,
            rounds=5,
        )
    ]


def plain_pass(state: BenchState) -> list[float]:
    """Hour in which each board is ready in one future; what comes in too."""
    known, rng, midnight = state.known, random.Random(1), state.now.replace(hour=0, minute=0)

    def hour(at: datetime) -> float:
        return (at - midnight).total_seconds() / 3600

    now = hour(state.now)
    free = [now for _ in state.people]
    boards = [
        [hour(one.came), 30 if one.promised is None else (one.promised - midnight.date()).days, one.rush,
         hour(one.free_from), list(one.steps), None if one.bonds_until is None else hour(one.bonds_until),
         sum(step.minutes / 60 + step.cure_h for step in one.steps)]
        for one in state.boards
    ]  # fmt: skip
    rack = list(boards)
    for day in range(int(max(board[1] for board in boards)) + 1):
        for _ in range(round(known.arrivals.jobs_a_day) if (midnight.weekday() + day) % 7 < 5 else 0):
            kind = rng.choices(known.arrivals.kinds, [each.share for each in known.arrivals.kinds])[0]
            came = 24 * day + rng.uniform(9, 17)
            boards.append([came, day + 5, rng.random() < known.arrivals.rush_share, came, list(kind.steps), None])
            boards[-1].append(sum(step.minutes / 60 + step.cure_h for step in kind.steps))
    while any(board[4] for board in rack):
        person = free.index(min(free))
        now = free[person]
        day = int(now // 24)
        weekday = (midnight.weekday() + day) % 7
        spans = [(24 * day + begin / 60, 24 * day + end / 60) for begin, end in state.people[person].hours[weekday]]
        left = sum(end - max(begin, now) for begin, end in spans if end > now) * (1 - known.lost_share)
        best, found = None, None
        for board in boards:
            if not board[4] or board[3] > now:
                continue
            step = board[4][0]
            hours = step.minutes / 60
            if step.coats and board[5] is not None and now > board[5]:
                hours += step.sand_first_min / 60
            if hours > left and not step.may_stop:
                continue
            closes = step.coats and board[5] is not None and 0 <= board[5] - now <= 3
            key = (not closes, not board[2], 24 * (board[1] + 1) - now - 2.2 * board[6], board[0])
            if best is None or key < best:
                best, found = key, board
        if found is None:
            soon = [board[3] for board in boards if board[4] and board[3] > now]
            free[person] = min([*soon, 24.0 * (day + 1) + 9])
            continue
        step = found[4].pop(0)
        found[6] -= step.minutes / 60 + step.cure_h
        took = step.minutes / 60 * math.exp(rng.gauss(0, 0.12) + rng.gauss(0, known.minutes_sd_log))
        free[person] = now + took / (1 - known.lost_share)
        found[3] = free[person] + step.cure_h * math.exp(rng.gauss(0, known.cure_sd_log))
        found[5] = None if step.bonds_h is None else free[person] + step.bonds_h
    return [board[3] for board in rack]

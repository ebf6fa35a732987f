"""Ready days on 75 states of simulated shops, against what came of them and against a plain reference."""

from __future__ import annotations

from datetime import date
from functools import cache

from quotes.planner import ReadyDay, forecast
from tests.planner.samples import samples

SHARES = (0.5, 0.8, 0.9)


def pinball(days: list[date], done_on: date) -> float:
    """Pinball loss in days, summed over the even chance, eight and nine in ten."""
    late = [(done_on - day).days for day in days]
    return sum(max(share * each, (share - 1) * each) for share, each in zip(SHARES, late, strict=True))


@cache
def found() -> list[ReadyDay]:
    return [forecast(one.state).ready(one.state.ask[0]) for one in samples()]


def losses() -> tuple[list[float], list[float]]:
    ours = [pinball([day.q50, day.q80, day.q90], one.done_on) for day, one in zip(found(), samples(), strict=True)]
    return ours, [pinball(one.reference, one.done_on) for one in samples()]


def test_its_days_are_nearer_than_the_references():
    ours, reference = losses()
    assert len(ours) == 75
    assert round(sum(reference) / 75, 2) == 0.93
    assert sum(ours) <= 0.95 * sum(reference)


def test_they_are_nearer_on_both_halves_of_the_states():
    ours, reference = losses()
    for half in (0, 1):
        assert sum(ours[half::2]) <= 0.95 * sum(reference[half::2])


def test_eight_in_ten_is_honest():
    held = sum(one.done_on <= day.q80 for day, one in zip(found(), samples(), strict=True)) / 75
    assert 0.78 <= held <= 0.93

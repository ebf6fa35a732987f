"""What would lift a promise that fell below even: an hour more, a rush that waits, an answer, another day."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from quotes.models import Job
from quotes.planner import BenchState, ReadyDays, forecast
from quotes.planner.promise import A_TENTH
from quotes.planner.state import PersonHours
from quotes.ready_days.rack_state import RackState
from shop.text.formats import day as day_words
from shop.text.formats import in_ten

TRIED = 40  # draws for what is only compared; they are the first of those that the chance itself was worked out with
HELPED_AT_MOST = 3  # jobs, the first promised first
HOUR = 60


def what_helps(bench: RackState, found: ReadyDays, fallen: Sequence[Job]) -> list[dict[str, Any]]:
    """By job that fell below even the sentences of what would help, what helps most first."""
    told: list[dict[str, Any]] = []
    for job in sorted(fallen, key=lambda job: (job.promised_on, job.pk))[:HELPED_AT_MOST]:
        told += _of_job(bench, found, job)
    return told


def _of_job(bench: RackState, found: ReadyDays, job: Job) -> list[dict[str, Any]]:
    """What helps one job; ringing its customer always does."""
    name, day = bench.called[job.pk], job.promised_on
    assert day is not None
    likely = found.ready(name).q80
    another = found.within_a_year(likely)
    if day < bench.now.date():
        holds = f": ring and tell another, {day_words(likely)} holds eight in ten" if another else ""
        return [
            {"job": job.pk, "tag": name, "words": f"The day promised, {day_words(day)}, is past{holds}.", "waits": []}
        ]
    now = forecast(bench.state, TRIED).chance(name, day)
    lifted = []
    for words, state in _changes(bench, name, day):
        after = forecast(state, TRIED).chance(name, day)
        if after - now >= A_TENTH:
            lifted.append((after, f"{words}: {in_ten(now)} becomes {in_ten(after)}."))
    asked = [extra for extra in job.extras.all() if extra.open]
    said = [f"Ring for the answer to “{extra.words}”: the board waits for it." for extra in asked]
    said += [words for _, words in sorted(lifted, reverse=True)]
    if likely > day and another:
        said.append(f"Ring and tell another day: {day_words(likely)} holds eight in ten.")
    waits = sorted(extra.pk for extra in asked)
    return [{"job": job.pk, "tag": name, "words": words, "waits": waits} for words in said]


def _changes(bench: RackState, name: str, promised: date) -> Iterator[tuple[str, BenchState]]:
    """What the shop could do, in words, and the bench as it then is."""
    state, today = bench.state, bench.now.date()
    first = max(today + timedelta(days=1), promised - timedelta(days=6))  # hours are those of a weekday: no day twice
    for number in range((promised - first).days + 1):
        day = first + timedelta(days=number)
        longer = _hour_more(state, day)
        if longer is not None:
            yield f"An hour more on {day_words(day)}", longer
    for board in state.boards:
        if board.rush and board.job != name:
            slower = [replace(one, rush=False) if one.job == board.job else one for one in state.boards]
            yield f"If the rush on tag {board.job} waits its turn", replace(state, boards=tuple(slower))


def _hour_more(state: BenchState, day: date) -> BenchState | None:
    """The bench where the first who is there on a day stays an hour longer; None where nobody is."""
    if day in state.closed:
        return None
    for at, one in enumerate(state.people):
        if one.hours[day.weekday()] and day not in one.away:
            people = (*state.people[:at], _stays(one, day.weekday()), *state.people[at + 1 :])
            return replace(state, people=people)
    return None


def _stays(one: PersonHours, weekday: int) -> PersonHours:
    spans = one.hours[weekday]
    begin, end = spans[-1]
    longer = (*spans[:-1], (begin, min(end + HOUR, 24 * HOUR)))
    return replace(one, hours=(*one.hours[:weekday], longer, *one.hours[weekday + 1 :]))

"""A day told to a customer, kept with the state of the bench that it rests on and the chance it had."""

from __future__ import annotations

from datetime import date
from typing import Any

from quotes.models import Job, KeptState, Promise
from quotes.planner import ReadyDay, WrongState, forecast, from_json
from quotes.planner.state import BenchState
from quotes.ready_days.way_days import BenchAsked, DayAsked
from shop.platform.acts import Signed


def keep_promise(
    *, job: Job, day: date, asked: DayAsked | None, because: str, signed: Signed, by_hand: bool = False
) -> Promise:
    """The day a job is promised for, with the chance it had; `asked` is None where the bench could not be played."""
    told: dict[str, Any] = {}
    if asked is not None:
        ready = asked.ready
        told = {
            "chance": ready.chance,
            "even_on": ready.q50,
            "likely_on": ready.q80,
            "nine_on": ready.q90,
            "state": _kept(asked.state),
            "draws": asked.draws,
        }
    return Promise.objects.create(
        job=job, day=day, by_hand=by_hand, because=because, at=signed.at, by=signed.by, **told
    )


def _kept(state: BenchState) -> KeptState:
    """The state's row; promises of one state share it."""
    digest = state.digest()
    row = KeptState.objects.filter(digest=digest).first()
    if row is None:
        row = KeptState(digest=digest)
        row.told = state.to_json()
        row.save()
    return row


def worked_out_again(promise: Promise) -> ReadyDay | None:
    """The days behind a promise, worked out again from the state it was made in; None where none was kept."""
    if promise.state is None:
        return None
    state = from_json(promise.state.told)
    return forecast(state, promise.draws).ready(state.ask[0])


def chance_of(job: Job, day: date, signed: Signed) -> DayAsked | None:
    """What another day for a job on the bench is worth, asked now; None where the bench cannot be played."""
    asked = BenchAsked(signed.at, signed.shop, to_promise=True)
    try:
        bench = asked.bench
        name = bench.called[job.pk]
        state = bench.state.promised({name: day})
    except (WrongState, KeyError):
        return None
    state = BenchState(state.now, state.people, state.closed, state.known, state.boards, (name,))
    return DayAsked(state, forecast(state, asked.draws).ready(name), asked.draws, ())

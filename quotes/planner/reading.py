"""The neutral form of a state, as JSON: read with a sentence for whatever is wrong with it.

    {"now", "people": [{name, hours: {mon…sun: [[from, to], …]}, away}], "closed", "known", "jobs", "ask"}

Times are local, YYYY-MM-DDTHH:MM; a board's fields are those of `BoardAhead`, a step's those of `StepAhead`. Steps come
in the order they are done, so that no circle can be said.
"""

from __future__ import annotations

from datetime import date, datetime
from itertools import pairwise
from math import isfinite
from typing import Any

from quotes.planner.state import (
    KNOWN_FIGURES,
    WEEKDAYS,
    Arrivals,
    BenchState,
    BoardAhead,
    KindOfJob,
    KnownOfShop,
    PersonHours,
    Span,
    StepAhead,
    TurnUp,
    WrongState,
)

SHARES = {"lost_share", "away_chance", "odd_choice", "chance", "rush_share", "again_chance"}


def from_json(told: Any) -> BenchState:
    """State of a shop from its neutral form; raises WrongState with a sentence."""
    told = _object(told, "The state")
    return BenchState(
        now=_moment(told.get("now"), "The state", "now"),
        people=tuple(_hands(one) for one in _list(told.get("people"), "The state", "people")),
        closed=_days(told.get("closed", []), "The state", "closed"),
        known=_known(_object(told.get("known"), "What is known")),
        boards=tuple(_board(one) for one in _list(told.get("jobs"), "The state", "jobs")),
        ask=tuple(str(job) for job in _list(told.get("ask", []), "The state", "ask")),
    )


def _object(told: Any, whose: str) -> dict[str, Any]:
    """What has to be an object."""
    if not isinstance(told, dict):
        raise WrongState(f"{whose} is missing or no object.")
    return told


def _list(told: Any, whose: str, name: str) -> list[Any]:
    """What has to be a list."""
    if not isinstance(told, list):
        raise WrongState(f"{whose}: “{name}” is missing or no list.")
    return told


def _number(told: dict[str, Any], whose: str, name: str) -> float:
    """A number of zero or more; a share is at most one."""
    value = told.get(name)
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value) or value < 0:
        raise WrongState(f"{whose}: “{name}” is {value!r}, not a number of zero or more.")
    if name in SHARES and value > 1:
        raise WrongState(f"{whose}: “{name}” is {value!r}, and a share is at most 1.")
    return float(value)


def _moment(value: Any, whose: str, name: str) -> datetime:
    """A local time."""
    try:
        at = datetime.fromisoformat(value)
    except (TypeError, ValueError):
        raise WrongState(f"{whose}: “{name}” is {value!r}, not a time like 2026-03-05T09:30.") from None
    if at.tzinfo is not None:
        raise WrongState(f"{whose}: “{name}” is {value!r}; times are local, without a zone.")
    return at


def _day(value: Any, whose: str, name: str) -> date:
    """A day."""
    try:
        return date.fromisoformat(value)
    except (TypeError, ValueError):
        raise WrongState(f"{whose}: “{name}” is {value!r}, not a day like 2026-03-05.") from None


def _days(told: Any, whose: str, name: str) -> frozenset[date]:
    """Days from a list of them."""
    return frozenset(_day(value, whose, name) for value in _list(told, whose, name))


def _hands(told: Any) -> PersonHours:
    """A person with hours and days away."""
    told = _object(told, "A person")
    name = str(told.get("name", ""))
    whose = f"Person “{name}”"
    hours = _object(told.get("hours"), f"{whose}: the hours")
    strange = sorted(set(hours) - set(WEEKDAYS))
    if strange:
        raise WrongState(f"{whose}: “{strange[0]}” is no weekday; they are {', '.join(WEEKDAYS)}.")
    week = tuple(_spans(hours.get(weekday, []), whose, weekday) for weekday in WEEKDAYS)
    return PersonHours(name, week, _days(told.get("away", []), whose, "away"))


def _spans(told: Any, whose: str, weekday: str) -> tuple[Span, ...]:
    """Hours of one weekday, one span after the other."""
    spans = []
    for pair in _list(told, whose, weekday):
        if not isinstance(pair, list) or len(pair) != 2:
            raise WrongState(f"{whose}: {weekday} has {pair!r}, not a pair like 09:00 and 12:30.")
        spans.append((_clock(pair[0], whose, weekday), _clock(pair[1], whose, weekday)))
    flat = [minute for span in spans for minute in span]
    if any(earlier > later for earlier, later in pairwise(flat)) or any(begin == end for begin, end in spans):
        raise WrongState(f"{whose}: the hours of {weekday} do not follow one another.")
    return tuple(spans)


def _clock(value: Any, whose: str, weekday: str) -> int:
    """Minutes after midnight of a time like 09:30; 24:00 is the end of the day."""
    try:
        hour, minute = (int(part) for part in value.split(":"))
    except (AttributeError, ValueError):
        raise WrongState(f"{whose}: {weekday} has {value!r}, not a time like 09:30.") from None
    if not (0 <= minute < 60 and 0 <= hour * 60 + minute <= 24 * 60):
        raise WrongState(f"{whose}: {weekday} has {value!r}, and a day ends at 24:00.")
    return hour * 60 + minute


def _steps(told: Any, whose: str) -> tuple[StepAhead, ...]:
    """Steps in the order they are done."""
    return tuple(_step(one, whose) for one in _list(told, whose, "steps"))


def _step(told: Any, whose: str) -> StepAhead:
    """A step; its minutes and its cure have to be known, the rest may be missing."""
    told = _object(told, f"{whose}: a step")
    name = str(told.get("step", ""))
    which = f"{whose}, step “{name}”"
    if not told.get("minutes"):
        raise WrongState(f"{which} has no minutes: say how long hands are on it.")
    if told.get("cure_h") is None:
        raise WrongState(f"{which}: its cure is not known; 0 if the next step may follow at once.")
    return StepAhead(
        name=name,
        minutes=_number(told, which, "minutes"),
        cure_h=_number(told, which, "cure_h"),
        bonds_h=None if told.get("bonds_h") is None else _number(told, which, "bonds_h"),
        sand_first_min=0.0 if told.get("sand_first_min") is None else _number(told, which, "sand_first_min"),
        coats=bool(told.get("coats")),
        cuts=bool(told.get("cuts")),
        may_stop=bool(told.get("may_stop")),
    )


def _board(told: Any) -> BoardAhead:
    """A board on the rack."""
    told = _object(told, "A job")
    job = str(told.get("job", ""))
    whose = f"Job “{job}”"
    promised, bonds = told.get("promised"), told.get("bonds_until")
    after = told.get("turns_up_after")
    if after is not None and (isinstance(after, bool) or not isinstance(after, int) or after < 0):
        raise WrongState(f"{whose}: “turns_up_after” is {after!r}, not a number of steps.")
    return BoardAhead(
        job=job,
        came=_moment(told.get("came"), whose, "came"),
        promised=None if promised is None else _day(promised, whose, "promised"),
        rush=bool(told.get("rush")),
        free_from=_moment(told.get("free_from"), whose, "free_from"),
        bonds_until=None if bonds is None else _moment(bonds, whose, "bonds_until"),
        turns_up_after=after,
        steps=_steps(told.get("steps"), whose),
    )


def _known(told: dict[str, Any]) -> KnownOfShop:
    """What the shop knows of itself."""
    whose = "What is known"
    up = _object(told.get("turn_up"), f"{whose}: turn_up")
    arrivals = _object(told.get("arrivals"), f"{whose}: arrivals")
    kinds = tuple(
        KindOfJob(_number(_object(one, "A kind of job"), "A kind of job", "share"), _steps(one.get("steps"), "A kind"))
        for one in _list(arrivals.get("kinds"), whose, "kinds")
    )
    jobs_a_day = _number(arrivals, whose, "jobs_a_day")
    if jobs_a_day and not sum(kind.share for kind in kinds):
        raise WrongState(f"{whose}: jobs come in, and no kind of job has a share.")
    return KnownOfShop(
        **{name: _number(told, whose, name) for name in KNOWN_FIGURES},
        turn_up=TurnUp(
            chance=_number(up, whose, "chance"),
            answer_h=_number(up, whose, "answer_h"),
            answer_sd_log=_number(up, whose, "answer_sd_log"),
            steps=_steps(up.get("steps"), "What may turn up"),
        ),
        arrivals=Arrivals(jobs_a_day, _number(arrivals, whose, "rush_share"), kinds),
        again_chance=_number(told, whose, "again_chance") if "again_chance" in told else 0.0,
    )

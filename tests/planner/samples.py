"""States to try the planner on: 75 of five simulated shops, what came of them, and small certain ones made by hand."""

from __future__ import annotations

import gzip
import json
from copy import deepcopy
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from quotes.planner import BenchState, from_json

MONDAY = date(2026, 3, 2)
ALL_DAY = {day: [["00:00", "24:00"]] for day in ("mon", "tue", "wed", "thu", "fri", "sat", "sun")}
OFFICE = {day: [["09:00", "12:30"], ["13:00", "17:00"]] for day in ("mon", "tue", "wed", "thu", "fri")}


class Sample(NamedTuple):
    """A state, the day the asked job was really done, and what a plain reference said: even, eight and nine in ten."""

    name: str
    told: dict[str, Any]
    done_on: date
    reference: list[date]

    @property
    def state(self) -> BenchState:
        return from_json(self.told)


@cache
def samples() -> list[Sample]:
    told = json.loads(gzip.decompress((Path(__file__).parent / "states.json.gz").read_bytes()))
    return [
        Sample(
            one["name"],
            one["state"],
            date.fromisoformat(one["done_on"]),
            [date.fromisoformat(day) for day in one["reference"]],
        )
        for one in told
    ]


def sample(name: str) -> dict[str, Any]:
    """A copy of a sample state in the neutral form."""
    return deepcopy(next(one.told for one in samples() if one.name == name))


def step(minutes: float, **more: Any) -> dict[str, Any]:
    return {"step": "0", "minutes": minutes, "cure_h": 0.0, **more}


def board(job: str, steps: list[dict[str, Any]], *, promised: date | None = None, **more: Any) -> dict[str, Any]:
    """A board that came first thing on Monday, its steps named by their place."""
    named = [{**one, "step": str(index)} for index, one in enumerate(steps)]
    return {
        "job": job,
        "came": "2026-03-02T00:00",
        "promised": promised and promised.isoformat(),
        "rush": False,
        "free_from": "2026-03-02T00:00",
        "bonds_until": None,
        "turns_up_after": None,
        "steps": named,
        **more,
    }


def in_days(days: int) -> date:
    return MONDAY + timedelta(days=days)


def certain(boards: list[dict[str, Any]], *, hours: dict[str, Any] = ALL_DAY, people: int = 1, **known: Any) -> Any:
    """A shop where nothing is left to chance, but for what `known` says."""
    nothing = {
        "lost_share": 0,
        "lost_share_sd": 0,
        "away_chance": 0,
        "odd_choice": 0,
        "minutes_sd_log": 0,
        "job_sd_log": 0,
        "cure_sd_log": 0,
        "turn_up": {"chance": 0, "answer_h": 8, "answer_sd_log": 1, "steps": []},
        "arrivals": {"jobs_a_day": 0, "rush_share": 0, "kinds": []},
    }
    return {
        "now": "2026-03-02T00:00",
        "people": [{"name": f"p{index}", "hours": hours, "away": []} for index in range(people)],
        "closed": [],
        "known": {**nothing, **known},
        "jobs": boards,
        "ask": [],
    }

"""The planner: the bench played forward, so that a promise holds. No Django, no clock, no database; chance is keyed.

    state → draws → futures, played by the rule of the hands → ready days with their chance

The same rule with the middle of all minutes is the plan of the day.
"""

from __future__ import annotations

from quotes.planner.promise import DRAWS, ReadyDay, ReadyDays, Touched, forecast, touched_by_yes
from quotes.planner.reading import from_json
from quotes.planner.state import BenchState, WrongState
from quotes.planner.today import BenchPlanStep, plan_of_day

__all__ = [
    "DRAWS",
    "BenchPlanStep",
    "BenchState",
    "ReadyDay",
    "ReadyDays",
    "Touched",
    "WrongState",
    "forecast",
    "from_json",
    "plan_of_day",
    "touched_by_yes",
]

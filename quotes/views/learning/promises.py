"""Days promised: how many were kept, whether the chance said was honest, what made the late ones late, and what a
promise rests on. For the keeper."""

from __future__ import annotations

from calendar import day_name
from datetime import timedelta
from typing import Any, NamedTuple

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from quotes import lookback as book
from quotes.lookback.late import LateBy
from quotes.ready_days.figures import figures_by
from quotes.ready_days.promise_figure import PromiseFigure
from quotes.ready_days.seen import Seen
from shop.models import Role
from shop.web.access import open_to
from shop.web.request import ShopRequest

YEAR = timedelta(days=365)
LATE_SHOWN = 10  # the last ones
LATE_WORDS: dict[LateBy, str] = {
    "answer": "An answer was waited for",
    "material": "Material came in late",
    "again": "Steps were done again",
    "away": "Somebody was away",
    "elsewhere": "Hours went elsewhere",
}


class FigureWords(NamedTuple):
    """How a figure is told: its name, what one observation of it is, `times` (100: as a share in per cent), its unit,
    decimals, a remark."""

    name: str
    each: str
    times: float = 100.0
    unit: str = " %"
    places: int = 0
    remark: str = ""


FIGURE_WORDS = {
    "lost_share": FigureWords(
        "Open hours that go to other things", "day",
        remark="The counter, the phone, small jobs. It starts from the hands-on hours in a day that the shop gave.",
    ),
    "lost_share_sd": FigureWords("How much that differs from day to day", "day", remark="Of the open hours, up or down."),
    "away_chance": FigureWords("A day away that nobody knew of before", "day", places=1),
    "odd_choice": FigureWords("Hands choose another step than the plan", "day"),
    "minutes_sd_log": FigureWords("Minutes of one step, up or down", "log", remark="Two steps in three lie within it."),
    "job_sd_log": FigureWords("Minutes of a whole job, up or down", "job", remark="What all its steps have in common."),
    "cure_sd_log": FigureWords("Cures, up or down", "cure"),
    "again_chance": FigureWords("A step is done again", "step", places=1),
    "turn_up": FigureWords("Something turns up once a board is open", "job"),
    "answer_h": FigureWords(
        "Until a customer answers", "answer", times=1.0, unit=" h", places=1, remark="The middle of all answers."
    ),
    "jobs_a_day": FigureWords(
        "Jobs agreed on a day worked", "day", times=1.0, unit="", places=2,
        remark="It starts from what keeps the bench three quarters busy.",
    ),
    "rush_share": FigureWords("Jobs that are a rush", "job"),
}  # fmt: skip


@open_to(Role.KEEPER)
def promises(request: ShopRequest) -> HttpResponse:
    """Days promised against days ready, of the last twelve months or of all. At most some thirty queries."""
    now, of_all = timezone.now(), request.GET.get("of") == "all"
    past = book.past_promises(request.shop, None if of_all else now - YEAR)
    found = book.promises_kept(past)
    context: dict[str, Any] = {"of_all": of_all, "found": found, "said": _said(found)}
    missed = [one for one in past if one.late]
    if missed:
        figures = {one.name: one.used.value for one in figures_by(Seen.of(now))}
        facts = book.late_facts(missed, request.shop, lost=figures["lost_share"], lost_sd=figures["lost_share_sd"])
        causes, unknown = book.causes_of_all(facts)
        context |= {
            "causes": [(LATE_WORDS[one.by], one) for one in causes],
            "unknown": unknown,
            "late": [
                (one, [LATE_WORDS[by] for by in book.what_made_late(own)])
                for one, own in list(zip(missed, facts, strict=True))[:LATE_SHOWN]
            ],
        }
    return render(request, "quotes/promises.html", context)


@open_to(Role.KEEPER)
def rests_on(request: ShopRequest) -> HttpResponse:
    """What a promise rests on: each figure with its start, what the shop's own rows say and what is used; hours by
    weekday."""
    seen = Seen.of(timezone.now())
    return render(
        request,
        "quotes/rests_on.html",
        {
            "figures": [_told(one) for one in figures_by(seen)],
            "weekdays": [(day_name[one.weekday], one) for one in seen.days.by_weekday],
        },
    )


def _said(found: book.PromisesKept) -> list[dict[str, Any]]:
    """Groups by the chance said, and all of them where there are several, in words and shares in per cent."""
    groups = [(_in_ten(one), one) for one in found.said]
    if len(groups) > 1 and found.all_said is not None:
        groups.append((f"All, {100 * found.all_said.chance:.0f} in 100 on average", found.all_said))
    return [{"words": words, "group": one, "low": 100 * one.low, "high": 100 * one.high} for words, one in groups]


def _in_ten(group: book.SaidChance) -> str:
    """The chance of a group: 8 in 10."""
    return {10: "Nearly sure", 0: "Hardly"}.get(group.tenths) or f"{group.tenths} in 10"


def _told(figure: PromiseFigure) -> dict[str, Any]:
    """A figure in the unit it is told in."""
    words = FIGURE_WORDS[figure.name]
    shown = {"start": figure.start.value, "used": figure.used.value, "low": figure.used.low, "high": figure.used.high}
    if figure.own is not None:
        shown["own"] = figure.own
    return {"words": words, "count": figure.count} | {name: value * words.times for name, value in shown.items()}

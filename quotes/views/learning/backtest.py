"""What learning was worth: each finished job foretold from what was known before it.

For the keeper, since it shows wages.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple
from urllib.parse import urlencode

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from quotes import experience
from quotes import lookback as book
from quotes.costing.learning.backtest import ActualUse
from quotes.costing.learning.coverage import RangeCoverage, coverage
from quotes.models import Backtest
from shop.forms.fields import ShedForm
from shop.models import Role
from shop.papers import charts
from shop.platform.acts import Refused
from shop.web.access import open_to
from shop.web.page import sent
from shop.web.request import ShopRequest
from shop.web.submission import asked_for, once

DRAWN = 40  # the last jobs: more would touch
JOBS_SHOWN = 10  # on one page of the table
NAMES = {"material_cost": "Material", "minutes": "Minutes", "total": "In all"}


class Foretold(NamedTuple):
    """One job as it was foretold, material and hands in currency.

    Eight in ten, the middles of shop and trade, the truth.
    """

    tag: str
    pk: int
    learnt_from: int
    low: float
    middle: float
    high: float
    trade: float
    real: float

    @property
    def off(self) -> float:
        """By how much the shop's middle was off, up or down, in per cent of the truth."""
        return abs(self.middle / self.real - 1.0) * 100

    @property
    def trade_off(self) -> float:
        """By how much the trade's middle was off, up or down, in per cent of the truth."""
        return abs(self.trade / self.real - 1.0) * 100


class FigureForetold(NamedTuple):
    """How one figure was foretold.

    Off by, in per cent, by the shop's own figures and the trade's, and how many of `jobs` each range held.
    """

    name: str
    jobs: int
    off: float
    trade_off: float
    half: int
    eight: int
    nineteen: int


@open_to(Role.KEEPER)
def backtest(request: ShopRequest) -> HttpResponse:
    """The last result with its pictures; a button works it out again where that takes no more than a moment."""
    form = ShedForm(sent(request), shop=request.shop)
    if form.is_bound:
        try:
            return once(request, _work_out(request))
        except Refused as refusal:
            form.is_valid()
            form.refuse(refusal)
    row, finished = experience.kept_backtest(), experience.finished_jobs()
    context = {
        "form": form,
        "row": row,
        "finished": finished,
        "since": experience.finished_since(row),
        "at_once": 0 < finished <= experience.WALKED_AT_ONCE,
        "most": experience.WALKED_AT_ONCE,
        "at_night": experience.WALKED_AT_NIGHT,
        **(_shown(row, request) if row.answer.get("summary") else {}),
    }
    return render(request, "quotes/backtest.html", context, status=422 if form.is_bound else 200)


def _work_out(request: ShopRequest) -> Callable[[], str]:
    """What the button does; the walk itself is done before, so that nobody at the bench waits for it."""
    if experience.finished_jobs() > experience.WALKED_AT_ONCE:
        raise Refused(
            f"More than {experience.WALKED_AT_ONCE} jobs are finished, too many to work out while you wait: "
            "the nightly run does it."
        )
    now = timezone.now()
    walked = experience.backtest(day=timezone.localdate(now))

    def keep() -> str:
        experience.keep_backtest(walked=walked, at=now)
        messages.success(request, "Worked out again.")
        return reverse("backtest")

    return keep


def _shown(row: Backtest, request: ShopRequest) -> dict[str, Any]:
    """Figures and pictures of a result that has any, and the table of its jobs."""
    summary = row.answer["summary"]
    jobs = [told for one in row.answer["jobs"] if (told := _foretold(one, row.hourly)) is not None]
    total = summary["total"]
    return {
        "summary": summary,
        "figures": [_kept(key, summary[key]) for key in NAMES],
        "total": _kept("total", total) if total["jobs"] else None,
        "worth": summary["worth"],
        "closer": abs(summary["worth"]),
        "closer_each": abs(summary["worth"]) / total["jobs"] if total["jobs"] else 0.0,
        "ranges": _ranges(total),
        "known": sum(1 for one in jobs if one.learnt_from),
        **_table(list(reversed(jobs)), request),
        **_pictures(jobs[-DRAWN:]),
    }


def _table(jobs: Sequence[Foretold], request: ShopRequest) -> dict[str, Any]:
    """The jobs by pages, or those that are asked for by tag, board, owner or repair. One query."""
    q = asked_for(request)
    rows = {job.pk: job for job in book.ended().filter(pk__in=[one.pk for one in jobs]).named(q)}
    found = [one for one in jobs if one.pk in rows] if q else jobs
    page = Paginator(found, JOBS_SHOWN).get_page(request.GET.get("page"))
    return {
        "jobs": jobs,
        "page": page,
        "shown": [(one, rows.get(one.pk)) for one in page],
        "q": q,
        "query": urlencode({"q": q}) if q else "",
        "opened": bool(q) or "page" in request.GET,
    }


def _foretold(one: Mapping[str, Any], hourly: float) -> Foretold | None:
    """A job of the result; None where nobody wrote down what it took in all."""
    real = ActualUse(**one["real"]).total(hourly)
    if not real:
        return None
    own, trade = one["learned"]["total"], one["trade"]["total"]
    return Foretold(
        one["tag"], int(one["job"]), one["learnt_from"], own["q10"], own["q50"], own["q90"], trade["q50"], real
    )


def _kept(key: str, one: Mapping[str, Any]) -> FigureForetold:
    jobs = one["jobs"]
    inside = (round(one[f"within_{share}"] * jobs) for share in (50, 80, 95))
    return FigureForetold(NAMES[key], jobs, one["error"] * 100, one["trade_error"] * 100, *inside)


def _ranges(total: Mapping[str, Any]) -> RangeCoverage:
    return coverage(round(total["within_80"] * total["jobs"]), total["jobs"])


def _pictures(jobs: Sequence[Foretold]) -> dict[str, Any]:
    if not jobs:
        return {"drawn": 0}
    means = [sum(getattr(one, name) for one in jobs) / len(jobs) for name in ("trade_off", "off")]
    return {
        "drawn": len(jobs),
        "drawn_off": means[1],
        "drawn_trade_off": means[0],
        "pairs": charts.pairs([(one.trade_off, one.off) for one in jobs], (means[0], means[1])),
        "strips": charts.strips([charts.shares(one.low, one.middle, one.high, one.real) for one in jobs]),
    }

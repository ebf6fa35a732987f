"""The home page: the boards in the shop, grouped by what each one waits for."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from inventory.models import Material, PackPrice
from quotes import bench, experience
from quotes.bench.job.rack import Group, on_the_rack, promised_this_week, steps_by_job
from quotes.bench.job.today import BenchToday, names_of, planned_today
from quotes.bench.plan.chances import kept_chances
from quotes.bench.use.shared_mix import together_now
from quotes.models import Outlook, Quote, TakeIn
from quotes.ready_days.outlook import outlook
from quotes.recipes.own_figures import is_calibrated
from quotes.views.job.steps import warmth_asked
from shop.models import Role
from shop.platform.acts import EVERY_ROLE, SEES_MONEY
from shop.web.access import open_to
from shop.web.request import ShopRequest, signed
from shop.web.submission import said_or_done

SHOWN_AT_MOST = 25


@open_to(*EVERY_ROLE)
def rack(request: ShopRequest) -> HttpResponse:
    """Hands wanted first; the longest groups are cut, and shown whole on their own."""
    money = request.user.role in SEES_MONEY
    now, seen = timezone.now(), outlook()
    groups = on_the_rack(now, money=money, profile=request.shop, chances=kept_chances(seen))
    only = request.GET.get("only", "")
    shown = [group for group in groups if group.key == only] or groups
    boards = sum(len(group.bars) for group in groups)
    new_here = request.user.role == Role.KEEPER and not boards and not is_calibrated(request.shop)
    return render(
        request,
        "quotes/rack.html",
        {
            "groups": [_cut(group, whole=len(shown) == 1) for group in shown if group.bars or group.key == "hands"],
            "boards": boards,
            "week": [] if only else promised_this_week(groups, timezone.localdate(now)),
            "today": None if only else _today(seen, groups, now, request.user.pk),
            "counts": [(group.title, len(group.bars), group.key) for group in groups],
            "only": len(shown) == 1,
            "no_prices": money and not PackPrice.objects.exists(),
            "offer_own_work": new_here,
            "pages_of_money": money,
            "question": None if only else _question(now),
            **({} if only else warmth_asked(request, now, reverse("warmth"))),
            "cups": [] if only else together_now(now, request.shop.constants, request.shop),
        },
    )


def _today(seen: Outlook, groups: list[Group], now: datetime, own: int) -> BenchToday | None:
    """What each person does next, where anything is planned for today."""
    planned = planned_today(seen, steps_by_job(groups), names_of(seen), now, own)
    return planned if planned.of_today and planned.people else None


def _question(now: datetime) -> dict[str, Any] | None:
    """The step whose log would teach most today, and what to write down of it."""
    asked = experience.question_of_the_day(timezone.localdate(now))
    if asked is None:
        return None
    name = "" if asked.labour else Material.objects.filter(key=asked.material).values_list("name", flat=True).first()
    return {"step": asked.step, "takein": asked.step.job.takein, "material": name}


@open_to(*EVERY_ROLE)
def question_away(request: ShopRequest) -> HttpResponse:
    """Not today."""
    if request.method != "POST":
        return redirect("rack")

    def act() -> str:
        experience.wave_away(on=timezone.localdate())
        return reverse("rack")

    return said_or_done(request, act, reverse("rack"))


@open_to(*SEES_MONEY)
def rang(request: ShopRequest, pk: int) -> HttpResponse:
    """One tap: the customer of a board was rung; back to its job, or to the quote that waits for an answer."""
    row = get_object_or_404(TakeIn, pk=pk)
    back = _page_of(row)
    if request.method != "POST":
        return redirect(back)
    what = request.POST.get("what", "")

    def act() -> str:
        bench.rang(takein=row, what=what, signed=signed(request))
        return back

    return said_or_done(request, act, back)


def _page_of(row: TakeIn) -> str:
    if job := row.jobs.order_by("pk").last():
        return reverse("job", args=[job.pk])
    if sent := row.quoted.filter(quote__state=Quote.State.SENT).order_by("pk").last():
        return reverse("quote", args=[sent.quote_id])
    return reverse("takein", args=[row.pk])


def _cut(group: Group, *, whole: bool) -> dict[str, object]:
    bars = group.bars if whole else group.bars[:SHOWN_AT_MOST]
    return {"group": group, "bars": bars, "count": len(group.bars), "more": len(group.bars) - len(bars)}

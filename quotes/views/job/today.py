"""Today at the bench: who does what next, as the plan that was kept has it; one tap begins a step."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from quotes.bench.job.today import RULE, bench_today, names_of, steps_on_the_bench
from quotes.bench.use.shared_mix import together_now
from quotes.ready_days.outlook import look_now, outlook
from shop.platform.acts import EVERY_ROLE
from shop.web.access import open_to
from shop.web.page import button
from shop.web.request import ShopRequest


@open_to(*EVERY_ROLE)
def today(request: ShopRequest) -> HttpResponse:
    """The plan of the day by person, what could also be begun, what cures, and the cups that serve several boards."""
    now, seen = timezone.now(), outlook()
    plan = bench_today(seen, steps_on_the_bench(), names_of(seen), now, request.user.pk)
    return render(
        request,
        "quotes/today.html",
        {
            "plan": plan,
            "rule": RULE,
            "outlook": seen,
            "old": seen.worked_at is None or timezone.localdate(seen.worked_at) != plan.today,
            "cups": together_now(now, request.shop.constants, request.shop),
        },
    )


today_again = button(look_now, to="today", says="The plan is worked out as things stand now.")

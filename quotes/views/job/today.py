"""Today at the bench: who does what next, as the plan that was kept has it; one tap begins a step."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from quotes.bench.job.today import RULE, bench_today, names_of, steps_on_the_bench
from quotes.bench.plan.chances import last_outlook
from quotes.bench.use.shared_mix import together_now
from shop.platform.acts import EVERY_ROLE
from shop.web.access import open_to
from shop.web.request import ShopRequest


@open_to(*EVERY_ROLE)
def today(request: ShopRequest) -> HttpResponse:
    """The plan of the day by person, what could also be begun, what cures, and the cups that serve several boards."""
    now, outlook = timezone.now(), last_outlook()
    plan = bench_today(outlook, steps_on_the_bench(), names_of(outlook), now, request.user.pk)
    return render(
        request,
        "quotes/today.html",
        {
            "plan": plan,
            "now": now,
            "rule": RULE,
            "outlook": outlook,
            "old": outlook is None or outlook.worked_at is None or timezone.localdate(outlook.worked_at) != plan.today,
            "cups": together_now(now, request.shop.constants, request.shop),
        },
    )

"""What a shop knows of its own work: a few times and prices in, what every job would cost out, then kept or not."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from quotes.costing import Calibration, CoreDamage, NoCalibration, boards_together, calibrate, together_in_words
from quotes.costing import estimate as worked_out
from quotes.costing.job.calibration import KnownJobRow
from quotes.estimating import Inputs, shop_inputs
from quotes.forms.calibrating import KnownForm
from quotes.pricelist import Column, other_jobs, usual_jobs
from quotes.recipes.own_figures import is_calibrated, leave_calibration, set_calibration
from quotes.views.prices.own_figures import held_against
from shop.forms.fields import ShedForm
from shop.models import Role
from shop.platform.acts import Refused
from shop.web.access import open_to
from shop.web.page import sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import came_from, filled


class Outcome(NamedTuple):
    """What came out of what was typed, with the jobs it speaks of by key."""

    calibration: Calibration
    jobs: Mapping[str, CoreDamage]


@open_to(Role.KEEPER)
def own_work(request: ShopRequest) -> HttpResponse:
    """Minutes or prices of a few jobs; sent once, what comes out beside every other job; sent again, it is kept."""
    inputs = shop_inputs(day=timezone.localdate())
    form = KnownForm(sent(request), jobs=usual_jobs(inputs), shop=request.shop)
    found = _found(form, inputs) if form.is_valid() else None
    if (
        found
        and "keep" in request.POST
        and (answer := filled(request, form, lambda: _keep(request, found.calibration)))
    ):
        return answer
    return _page(request, form, inputs, found)


def _page(
    request: ShopRequest, form: KnownForm, inputs: Inputs, found: Outcome | None = None, **context: Any
) -> HttpResponse:
    """The page with what came out, if something did."""
    context |= {
        "up": came_from(request, ""),
        "form": form,
        "kept": is_calibrated(request.shop),
        "together": together_in_words(boards_together(inputs.shop)),
        "taught": bool(inputs.shop.learned),
        "found": _shown(found, form, inputs) if found else None,
    }
    wrong = (form.is_bound and bool(form.errors)) or "refused" in context
    return render(request, "quotes/own_work.html", context, status=422 if wrong else 200)


def _found(form: KnownForm, inputs: Inputs) -> Outcome | None:
    """What comes out of what was typed; None, with sentences in the form, where nothing does."""
    if inputs.missing:
        form.refuse(Refused({"__all__": [problem.text for problem in inputs.missing]}))
        return None
    known = form.known()
    jobs = [one.damage for one in known]
    others = other_jobs(inputs, but=jobs)
    try:
        found = calibrate(known, inputs.shop, board=form.column.board, others=others)
    except NoCalibration as problem:
        form.refuse_known(problem)
        return None
    by_key = {one.damage.key: one for one in known}
    for key, said in found.strange.items():
        form.ask_about_strange(by_key[key], said)
        if form.errors:  # one at a time: the farthest pulls the others away
            return None
    return Outcome(found, {one.key: one for one in [*jobs, *others]})


def _keep(request: ShopRequest, found: Calibration) -> str:
    """The figures become the shop's own, if they are those that were shown."""
    if request.POST.get("shown") != _told(found.constants):
        raise Refused("What comes out is not what was shown: look at it once more, then keep it.")
    set_calibration(figures=found.constants, signed=signed(request))
    kept = "Kept. Drafts and the price list go by it; sent quotes stay as they are."
    messages.success(request, kept + held_against(timezone.now()))
    return came_from(request, reverse("own-work"))


def _told(constants: Mapping[str, tuple[float, float, float]]) -> str:
    return " ".join(f"{value:g}" for _, (value, *_) in sorted(constants.items()))


def _shown(outcome: Outcome, form: KnownForm, inputs: Inputs) -> dict[str, Any]:
    """What came out as the page says it, each job beside what it comes to today."""
    (found, jobs), column = outcome, form.column
    return {
        "speed": (found.speed, found.speed_low, found.speed_high),
        "boards": (found.boards, found.boards_low, found.boards_high),
        "percent": round(abs(found.speed - 1) * 100),
        "slower": found.speed > 1,
        "column": column.words,
        "rows": [_row(row, jobs[row.key], column, inputs) for row in found.rows],
        "others": [_row(row, jobs[row.key], column, inputs) for row in found.others],
        "typed": form.typed(),
        "told": _told(found.constants),
    }


def _row(row: KnownJobRow, job: CoreDamage, column: Column, inputs: Inputs) -> dict[str, Any]:
    today = worked_out(job.recipe, job.measures, inputs.shop, board=column.board, accepted_odd=job.accepted_odd).priced
    return {"job": row, "price": row.priced.shown, "today": today.shown if today else None}


@open_to(Role.KEEPER)
@require_POST
def own_work_leave(request: ShopRequest) -> HttpResponse:
    """The trade's minutes and boards again."""

    def act() -> str:
        leave_calibration(signed=signed(request))
        messages.success(request, "The trade’s minutes and boards together again." + held_against(timezone.now()))
        return reverse("own-work")

    button = ShedForm(request.POST, shop=request.shop)
    if answer := filled(request, button, act):
        return answer
    inputs = shop_inputs(day=timezone.localdate())
    form = KnownForm(None, jobs=usual_jobs(inputs), shop=request.shop)
    return _page(request, form, inputs, refused=button)

"""One step on the bench: what to do, what to weigh, what was really used, and when hands may go on."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from itertools import groupby
from typing import Any

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from quotes import bench, experience
from quotes.bench.plan.reserving import short_steps
from quotes.costing.basis.cautions import in_short
from quotes.experience import InDoubt
from quotes.forms.bench import DoneForm, DropForm, MixForm, RedoForm, WarmthForm, as_typed, whole_minutes
from quotes.models import Job, Step, StepTime, StepUse
from quotes.views.job.jobs import head, jobs_with_all, to_job_of
from quotes.views.refused import refused_shown
from quotes.views.step_page import StepPage
from shop.measures import units
from shop.platform.acts import EVERY_ROLE
from shop.text.formats import hands
from shop.web.access import open_to
from shop.web.page import Shown, act_page, button, sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import filled, said_or_done


def steps_with_all() -> QuerySet[Step]:
    rows: QuerySet[Step] = Step.objects.select_related(
        "job__takein__board", "job__takein__brought_by", "part__way", "done_by", "redo_of"
    )
    return rows


def takers() -> QuerySet[Step]:
    """What materials are booked on: the steps, and the lines of sundries."""
    return Step.with_sundries.select_related("job__takein__board", "job__takein__brought_by", "done_by", "part__way")


@open_to(*EVERY_ROLE)
def step(request: ShopRequest, pk: int) -> HttpResponse:
    """A step; the line of a job's sundries has a page of its own."""
    row = steps_with_all().filter(pk=pk).first()
    if row is None:
        return redirect("sundries", pk=get_object_or_404(takers(), pk=pk).pk)
    return step_page(request, row)


def step_page(
    request: ShopRequest, row: Step, *, mix: MixForm | None = None, done: DoneForm | None = None
) -> HttpResponse:
    """The step's page; a form that was refused is handed in and shown again."""
    now, owner = timezone.now(), jobs_with_all().get(pk=row.job_id)
    asked = warmth_asked(request, now, reverse("step-warmth", args=[row.pk]))
    celsius = asked["warmth"].celsius if asked["warmth"] else None
    planned = bench.planned_and_used(row, celsius)
    refused = bench.refused_step(row, celsius)
    dose = None if refused else next_dose(row, celsius)
    after = bench.following(row)
    doses = bench.shown_doses(row, request.shop.locale, _told_at(row, celsius), after)
    steps = [each for each in owner.steps.all() if each.state != Step.State.DROPPED]
    cautions, fresh = row.planned.cautions, bench.met_first(row, steps)
    times = list(row.times.filter(replaced_at__isnull=True).select_related("person"))
    mix_form = mix or _mix_form(row, dose, request)
    page = _offers(
        row,
        owner,
        now,
        bench.next_step(steps, now),
        refused=bool(refused),
        dosed=bool(doses),
        mixes=mix_form is not None,
        withheld=bool(dose and dose.withheld),
        unbooked=any(line.left for line in planned),
        times=tuple((time.pk, hands(time.minutes)) for time in times),
    )
    context = {
        **head(owner),
        "step": row,
        "number": next((n for n, each in enumerate(steps, start=1) if each.pk == row.pk), None),
        "page": page,
        "open": page.open,
        "window": bench.window_words(row, now, celsius),
        "next_window": bench.next_window_words(after, now, celsius) if row.ahead else "",
        "words": row.to_do,
        "refused": refused_shown(refused, row.job.takein, request.user, job=row.job, step=row),
        "doses": doses,
        "last_dose": doses[-1] if doses else None,
        **asked,
        "dose": dose,
        "planned": planned,
        "booked": booked_on(row),
        "doubts": [_doubt(one, request.shop.locale) for one in experience.doubts_on(row)],
        "short": [
            one for one in short_steps([owner], today=timezone.localdate(now)).get(owner.pk, []) if one.step == row
        ],
        "places": bench.places_of(row),
        "cautions": cautions,
        "fresh": fresh,
        "in_short": in_short(cautions),
        "mix_form": mix_form,
        "done_form": done or _done_form(row, planned, request, told=not (refused or (dose and dose.withheld))),
        "form": mix or done,
        "times": times,
    }
    return render(request, "quotes/step.html", context, status=422 if mix or done else 200)


def _offers(row: Step, owner: Job, now: datetime, upcoming: Step | None, **more: Any) -> StepPage:
    """What may be done on the step's page; `upcoming` is the job's next step, and may be this one."""
    other = (upcoming.pk, upcoming.title) if upcoming and upcoming.pk != row.pk else None
    late, waits = bench.late(row, now), bench.waits(row, now)
    return StepPage(
        step=row.pk,
        state=row.state,
        late=late,
        waits=waits,
        next_step=other,
        job=owner.pk,
        job_state=owner.state,
        **more,
    )


def _told_at(row: Step, celsius: Decimal | None) -> Decimal | None:
    """The temperature that a step's doses are told for: today's, or that of the day on which it was done."""
    return bench.temperature_now(timezone.localdate(row.done_at)) if row.done_at else celsius


def next_dose(row: Step, celsius: Decimal | None) -> bench.Dose | None:
    """The first mix of the plan that was not weighed yet, as it is told in a shop of so many °C."""
    uses = row.uses.filter(undone_at__isnull=True)
    mixed: dict[str, int] = {}
    for key in uses.filter(mix__isnull=False).values_list("material__key", flat=True):
        mixed[key] = mixed.get(key, 0) + 1
    booked = set(uses.filter(mix__isnull=True).values_list("material__key", flat=True))
    for dose in bench.doses(row, celsius):
        left = mixed.get(dose.resin, 0)
        mixed[dose.resin] = max(0, left - dose.count)
        if left < dose.count and dose.resin not in booked:
            return dose
    return None


def names_on(row: Step) -> dict[str, str]:
    return {one.material: one.name for one in row.planned.materials}


def _mix_form(row: Step, dose: bench.Dose | None, request: ShopRequest) -> MixForm | None:
    return MixForm(dose=dose, names=names_on(row), shop=request.shop) if dose and row.ahead else None


def _done_form(
    row: Step, planned: list[bench.Planned], request: ShopRequest, data: Any = None, *, told: bool = True
) -> DoneForm | None:
    if not row.ahead:
        return None
    minutes, begun = whole_minutes(row.planned_minutes), bench.timed_since(row, timezone.now())
    initial = {"rest": told}
    return DoneForm(data, planned=planned, begun=begun, usual=minutes, told=told, shop=request.shop, initial=initial)


def booked_on(row: Step) -> list[dict[str, Any]]:
    """What was booked on the step, tap by tap, the last one first."""
    uses = list(row.uses.filter(undone_at__isnull=True).select_related("material", "by", "mix").order_by("-at", "pk"))
    return [
        {"at": group[0].at, "by": group[0].by, "use": group[0], "words": ", ".join(said_once(use) for use in group)}
        for group in (list(found) for _, found in groupby(uses, key=lambda use: use.tap))
    ]


def said_once(use: StepUse) -> str:
    own = " (the customer’s own)" if use.customers_own else ""
    return f"{units.show(use.used, use.material.unit)} {use.material.name}{own}"


def _doubt(one: InDoubt, locale: str) -> dict[str, Any]:
    """What is in doubt in words, what it may have been, and where either answer goes."""
    log, timed = one.log, isinstance(one.log, StepTime)
    unit = "min" if isinstance(log, StepTime) else log.material.unit
    name, amount = ("", log.minutes) if isinstance(log, StepTime) else (log.material.name, log.used)
    return {
        "said": units.show(amount, unit, locale=locale),
        "name": name,
        "guess": one.doubt.guess,
        "fits": None if one.fits is None else units.show(one.fits, unit, locale=locale),
        "values": {"minutes" if timed else "quantity": "" if one.fits is None else as_typed(one.fits)},
        "correct": reverse("time-edit" if timed else "use-edit", args=[log.pk]),
        "right": reverse("time-right" if timed else "use-right", args=[log.pk]),
    }


def head_of(row: Step) -> Shown:
    """The head of a step's job, with the step."""
    return {**head(jobs_with_all().get(pk=row.job_id)), "step": row}


def to_step(row: Step) -> str:
    return reverse("step", args=[row.pk])


@open_to(*EVERY_ROLE)
def step_start(request: ShopRequest, pk: int) -> HttpResponse:
    """Begin; past the window this puts the sanding in and leads to it."""
    row = get_object_or_404(steps_with_all(), pk=pk)
    if request.method != "POST":
        return redirect("step", pk=row.pk)

    def act() -> str:
        begun = bench.start_step(step=row, signed=signed(request), early="early" in request.POST)
        if begun.pk != row.pk:
            messages.warning(request, begun.instruction)
        return to_step(begun)

    return said_or_done(request, act, to_step(row))


@open_to(*EVERY_ROLE)
def step_done(request: ShopRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(steps_with_all(), pk=pk)
    if request.method != "POST":
        return redirect("step", pk=row.pk)
    planned = bench.planned_and_used(row, bench.temperature_now(timezone.localdate()))
    form = _done_form(row, planned, request, request.POST)
    if form is None:
        messages.warning(request, "This step was done already.")
        return redirect("step", pk=row.pk)

    def act() -> str:
        data, who = form.cleaned_data, signed(request)
        timed = form.begun is not None and not data["minutes"]
        minutes = (
            bench.minutes_since(form.begun, who.at)
            if form.begun and timed
            else data["minutes"] or bench.planned_minutes(row)
        )
        bench.finish_step(
            step=row,
            minutes=minutes,
            typed=timed or bool(data["minutes"]),
            rest_as_planned=bool(data.get("rest")),
            note=data["note"],
            signed=who,
        )
        messages.success(request, f"Done: {row.title}" + (f", {bench.hands_words(minutes)}." if timed else "."))
        return to_step(row) if experience.doubts_on(row) else _after(row)

    return filled(request, form, act) or step_page(request, row, done=form)


def _after(row: Step) -> str:
    """Where hands go next: the next step that may be begun, otherwise the job."""
    now = timezone.now()
    following = bench.next_step(Step.objects.filter(job=row.job_id), now)
    if following is None:
        return reverse("job", args=[row.job_id])
    if following.operation == bench.RELEASE:
        return reverse("job-release", args=[row.job_id])
    return reverse("job", args=[row.job_id]) if bench.waits(following, now) else to_step(following)


def warmth_asked(request: ShopRequest, now: datetime, to: str) -> dict[str, Any]:
    """Today's reading of how warm the shop is, or the form that asks for it: with the last one in its box, one tap."""
    day = timezone.localdate(now)
    last = bench.last_reading(day)
    usual = last.celsius if last else request.shop.shop_temperature_c
    form = WarmthForm(shop=request.shop, initial={"temperature": as_typed(usual)})
    return {"warmth": last if last and last.day == day else None, "warmth_form": form, "warmth_to": to}


step_reopen = button(bench.reopen_step, rows=steps_with_all(), called="step", to=to_step)


@act_page(bench.redo_step, "quotes/step_redo.html", rows=steps_with_all(), called="step", to=to_step)
def step_redo(request: ShopRequest, step: Step) -> Shown:
    return {**head_of(step), "form": RedoForm(sent(request), shop=request.shop)}


@act_page(bench.drop_step, "quotes/step_drop.html", rows=steps_with_all(), called="step", to=to_job_of)
def step_drop(request: ShopRequest, step: Step) -> Shown:
    return {**head_of(step), "form": DropForm(sent(request), shop=request.shop)}

"""One step on the bench: what to do, what to weigh, what was really used, and when hands may go on."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal
from itertools import groupby
from typing import Any

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from inventory.models import Container, Material
from inventory.stock.totals import monday
from quotes import bench, experience
from quotes.bench.plan.reserving import short_steps
from quotes.costing.basis.cautions import in_short
from quotes.costing.basis.words import many
from quotes.costing.job.sundries import SUNDRIES
from quotes.experience import InDoubt
from quotes.forms.bench import (
    DayForm,
    DoneForm,
    DropForm,
    MinutesForm,
    MixForm,
    RedoForm,
    SundriesForm,
    UseForm,
    UseRightForm,
    WarmthForm,
    WeekForm,
    WeighForStepForm,
    as_typed,
    whole_minutes,
)
from quotes.models import BenchHours, Job, Step, StepTime, StepUse
from quotes.views.job.jobs import head, jobs_with_all
from quotes.views.refused import refused_shown
from quotes.views.step_page import StepPage
from shop.forms.fields import ShedForm
from shop.measures import units
from shop.platform.acts import EVERY_ROLE
from shop.text.formats import hands
from shop.web.access import open_to
from shop.web.page import form_page, sent
from shop.web.request import ShopRequest
from shop.web.submission import filled, said_or_done

TOTALS_SHOWN = timedelta(days=31)  # that far back a total can be taken back


def _steps() -> QuerySet[Step]:
    rows: QuerySet[Step] = Step.objects.select_related(
        "job__takein__board", "job__takein__brought_by", "part__way", "done_by", "redo_of"
    )
    return rows


def _takers() -> QuerySet[Step]:
    """What materials are booked on: the steps, and the lines of sundries."""
    return Step.with_sundries.select_related("job__takein__board", "job__takein__brought_by", "done_by", "part__way")


@open_to(*EVERY_ROLE)
def step(request: ShopRequest, pk: int) -> HttpResponse:
    """A step; the line of a job's sundries has a page of its own."""
    row = _steps().filter(pk=pk).first()
    if row is None:
        return redirect("sundries", pk=get_object_or_404(_takers(), pk=pk).pk)
    return _page(request, row)


@open_to(*EVERY_ROLE)
def sundries(request: ShopRequest, pk: int) -> HttpResponse:
    """What the steps of a job share: planned, and booked once for the job."""
    row = get_object_or_404(_takers(), pk=pk, operation=SUNDRIES)
    planned = bench.planned_and_used(row)
    form = SundriesForm(sent(request), planned=planned, shop=request.shop)

    def act() -> str:
        bench.book_sundries(line=row, amounts=form.amounts(), by=request.user, at=timezone.now())
        messages.success(request, f"Booked: {row.title}.")
        return reverse("job", args=[row.job_id])

    context = {**head(jobs_with_all().get(pk=row.job_id)), "step": row, "planned": planned, "booked": _booked(row)}
    context["unbooked"] = row.job.state != Job.State.PICKED_UP and bool(form.left)
    return form_page(request, "quotes/sundries.html", form, act, **context)


def _page(request: ShopRequest, row: Step, *, mix: MixForm | None = None, done: DoneForm | None = None) -> HttpResponse:
    """The step's page; a form that was refused is handed in and shown again."""
    now, owner = timezone.now(), jobs_with_all().get(pk=row.job_id)
    asked = warmth_asked(request, now, reverse("step-warmth", args=[row.pk]))
    celsius = asked["warmth"].celsius if asked["warmth"] else None
    planned = bench.planned_and_used(row, celsius)
    refused = bench.refused_step(row, celsius)
    dose = None if refused else _next_dose(row, celsius)
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
        "booked": _booked(row),
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


def _next_dose(row: Step, celsius: Decimal | None) -> bench.Dose | None:
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


def _names(row: Step) -> dict[str, str]:
    return {one.material: one.name for one in row.planned.materials}


def _mix_form(row: Step, dose: bench.Dose | None, request: ShopRequest) -> MixForm | None:
    return MixForm(dose=dose, names=_names(row), shop=request.shop) if dose and row.ahead else None


def _done_form(
    row: Step, planned: list[bench.Planned], request: ShopRequest, data: Any = None, *, told: bool = True
) -> DoneForm | None:
    if not row.ahead:
        return None
    minutes, begun = whole_minutes(row.planned_minutes), bench.timed_since(row, timezone.now())
    initial = {"rest": told}
    return DoneForm(data, planned=planned, begun=begun, usual=minutes, told=told, shop=request.shop, initial=initial)


def _booked(row: Step) -> list[dict[str, Any]]:
    """What was booked on the step, tap by tap, the last one first."""
    uses = list(row.uses.filter(undone_at__isnull=True).select_related("material", "by", "mix").order_by("-at", "pk"))
    return [
        {"at": group[0].at, "by": group[0].by, "use": group[0], "words": ", ".join(_said(use) for use in group)}
        for group in (list(found) for _, found in groupby(uses, key=lambda use: use.tap))
    ]


def _said(use: StepUse) -> str:
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


def _to_step(row: Step) -> str:
    return reverse("step", args=[row.pk])


@open_to(*EVERY_ROLE)
def step_start(request: ShopRequest, pk: int) -> HttpResponse:
    """Begin; past the window this puts the sanding in and leads to it."""
    row = get_object_or_404(_steps(), pk=pk)
    if request.method != "POST":
        return redirect("step", pk=row.pk)

    def act() -> str:
        begun = bench.start_step(step=row, by=request.user, at=timezone.now(), early="early" in request.POST)
        if begun.pk != row.pk:
            messages.warning(request, begun.instruction)
        return _to_step(begun)

    return _or_say(request, row, act)


def _or_say(request: ShopRequest, row: Step, act: Callable[[], str]) -> HttpResponse:
    return said_or_done(request, act, reverse("step", args=[row.pk]))


@open_to(*EVERY_ROLE)
def step_done(request: ShopRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(_steps(), pk=pk)
    if request.method != "POST":
        return redirect("step", pk=row.pk)
    planned = bench.planned_and_used(row, bench.temperature_now(timezone.localdate()))
    form = _done_form(row, planned, request, request.POST)
    if form is None:
        messages.warning(request, "This step was done already.")
        return redirect("step", pk=row.pk)

    def act() -> str:
        data, now = form.cleaned_data, timezone.now()
        timed = form.begun is not None and not data["minutes"]
        minutes = (
            bench.minutes_since(form.begun, now)
            if form.begun and timed
            else data["minutes"] or bench.planned_minutes(row)
        )
        bench.finish_step(
            step=row,
            minutes=minutes,
            typed=timed or bool(data["minutes"]),
            rest_as_planned=bool(data.get("rest")),
            note=data["note"],
            by=request.user,
            at=now,
        )
        messages.success(request, f"Done: {row.title}" + (f", {bench.hands_words(minutes)}." if timed else "."))
        return _to_step(row) if experience.doubts_on(row) else _after(row)

    return filled(request, form, act) or _page(request, row, done=form)


def _after(row: Step) -> str:
    """Where hands go next: the next step that may be begun, otherwise the job."""
    now = timezone.now()
    following = bench.next_step(Step.objects.filter(job=row.job_id), now)
    if following is None:
        return reverse("job", args=[row.job_id])
    if following.operation == bench.RELEASE:
        return reverse("job-release", args=[row.job_id])
    return reverse("job", args=[row.job_id]) if bench.waits(following, now) else _to_step(following)


@open_to(*EVERY_ROLE)
def mix_new(request: ShopRequest, pk: int) -> HttpResponse:
    """A cup, for this board or for several at once."""
    row = get_object_or_404(_steps(), pk=pk)
    celsius = bench.temperature_now(timezone.localdate())
    dose = _next_dose(row, celsius) or next(iter(bench.doses(row, celsius)), None)
    if dose is None:
        messages.warning(request, "Nothing is mixed in this step. Book what was used as a material.")
        return redirect("step", pk=row.pk)
    refused = bench.refused_step(row, celsius)
    whole = request.method == "GET" or "onto" in request.POST
    others = _others(row, dose) if whole else []
    cup = None
    if others and not refused and (request.method == "POST" or "together" in request.GET):
        cup = bench.together_with(row, timezone.now(), request.shop.constants)
    filled_in = {"initial": MixForm.sharing(cup, row, dose)} if cup else {"initial": {}} if refused else {}
    form = MixForm(sent(request), dose=dose, names=_names(row), others=others, cup=cup, shop=request.shop, **filled_in)

    def act() -> str:
        now = timezone.now()
        if row.state == Step.State.TODO and not bench.late(row, now) and not refused:
            bench.start_step(step=row, by=request.user, at=now, early=True)
        entries = form.entries(row)
        bench.record_mix(step=row, by=request.user, at=now, **entries)
        for other in entries["shares"] or ():
            if (
                other != row
                and bench.can_start(other, now)
                and not bench.late(other, now)
                and not bench.refused_step(other, celsius)
            ):
                bench.start_step(step=other, by=request.user, at=now)
        return _to_step(row)

    if form.is_bound and not whole:
        return filled(request, form, act) or _page(request, row, mix=form)
    return form_page(
        request, "quotes/mix.html", form, act, **head(jobs_with_all().get(pk=row.job_id)), step=row, dose=dose,
        refused=refused_shown(refused, row.job.takein, request.user, job=row.job, step=row),
    )  # fmt: skip


def _others(row: Step, dose: bench.Dose) -> list[Step]:
    """Steps of other jobs that take the same resin next."""
    ahead = Step.objects.on_the_bench()
    ahead = ahead.exclude(job=row.job_id).select_related("job__takein__board").order_by("job", "position")
    found: list[Step] = []
    for _, steps in groupby(ahead, key=lambda step: step.job_id):
        found += [one for one in bench.heads(steps) if any(d.resin == dose.resin for d in bench.doses(one))]
    return found


def warmth_asked(request: ShopRequest, now: datetime, to: str) -> dict[str, Any]:
    """Today's reading of how warm the shop is, or the form that asks for it: with the last one in its box, one tap."""
    day = timezone.localdate(now)
    last = bench.last_reading(day)
    usual = last.celsius if last else request.shop.shop_temperature_c
    form = WarmthForm(shop=request.shop, initial={"temperature": as_typed(usual)})
    return {"warmth": last if last and last.day == day else None, "warmth_form": form, "warmth_to": to}


@open_to(*EVERY_ROLE)
def warmth(request: ShopRequest) -> HttpResponse:
    """How warm the shop is today, for all doses told on it."""
    return _warmth(request, reverse("rack"))


@open_to(*EVERY_ROLE)
def step_warmth(request: ShopRequest, pk: int) -> HttpResponse:
    """The same, asked on a step and back to it."""
    row = get_object_or_404(_steps(), pk=pk)
    return _warmth(request, _to_step(row), **head(jobs_with_all().get(pk=row.job_id)), step=row)


def _warmth(request: ShopRequest, back: str, **context: Any) -> HttpResponse:
    now = timezone.now()
    asked = warmth_asked(request, now, request.path)
    form = WarmthForm(request.POST, shop=request.shop) if request.method == "POST" else asked["warmth_form"]

    def act() -> str:
        row = bench.say_temperature(celsius=form.cleaned_data["temperature"], by=request.user, at=now)
        messages.success(request, f"Doses are told for {bench.degrees(row.celsius)} today.")
        return back

    return form_page(request, "quotes/warmth.html", form, act, **context, warmth=asked["warmth"])


@open_to(*EVERY_ROLE)
def step_use(request: ShopRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(_takers(), pk=pk)
    materials = list(Material.objects.in_use().order_by("name"))
    form = UseForm(sent(request), planned=bench.planned_and_used(row), materials=materials, shop=request.shop)

    def act() -> str:
        data = form.cleaned_data
        bench.record_use(
            step=row, material=form.materials[data["material"]], quantity=data["quantity"], customers_own=data["own"],
            by=request.user, at=timezone.now(),
        )  # fmt: skip
        return _to_step(row)

    keys = [one.material for one in row.planned.materials]
    on_the_scale = Container.objects.filter(emptied_at__isnull=True, lot__material__key__in=keys)
    context = {**head(jobs_with_all().get(pk=row.job_id)), "step": row}
    context["containers"] = on_the_scale.select_related("lot__material").order_by("lot__material__name", "pk")
    return form_page(request, "quotes/step_use.html", form, act, **context)


@open_to(*EVERY_ROLE)
def weigh_for_step(request: ShopRequest, pk: int) -> HttpResponse:
    """What is gone out of a container goes to a step on the bench: weighed once, it is off the shelf and on the job."""
    row = get_object_or_404(Container.objects.select_related("lot__material"), pk=pk)
    steps = bench.steps_that_take(row.lot.material)
    form = WeighForStepForm(sent(request), steps=steps, shop=request.shop)

    def act() -> str:
        step = form.picked
        use = bench.use_by_weight(
            step=step, container=row, gross_g=form.cleaned_data["gross"], by=request.user, at=timezone.now()
        )
        messages.success(request, f"Booked {_said(use)} on {step.job.takein.tag}.")
        return _to_step(step)

    context = {"container": row, "material": row.lot.material, "steps": steps}
    return form_page(request, "quotes/weigh_for_step.html", form, act, **context)


@open_to(*EVERY_ROLE)
def step_as_planned(request: ShopRequest, pk: int) -> HttpResponse:
    """Everything of the step that is not booked yet, in one tap."""
    row = get_object_or_404(_steps(), pk=pk)
    if request.method != "POST":
        return redirect("step", pk=row.pk)

    def act() -> str:
        bench.use_as_planned(step=row, by=request.user, at=timezone.now())
        return _to_step(row)

    return _or_say(request, row, act)


@open_to(*EVERY_ROLE)
def use_undo(request: ShopRequest, pk: int) -> HttpResponse:
    use = get_object_or_404(StepUse.objects.select_related("step"), pk=pk)
    if request.method != "POST":
        return redirect("step", pk=use.step_id)

    def act() -> str:
        undone = bench.undo_use(use=use, by=request.user, at=timezone.now())
        messages.success(request, "Undone: " + ", ".join(_said(each) for each in undone) + ".")
        return _to_step(use.step)

    return _or_say(request, use.step, act)


def _uses() -> QuerySet[StepUse]:
    return StepUse.objects.select_related("step__job__takein", "material")


def _times() -> QuerySet[StepTime]:
    return StepTime.objects.select_related("step__job__takein", "person")


@open_to(*EVERY_ROLE)
def use_edit(request: ShopRequest, pk: int) -> HttpResponse:
    """The right quantity of a use; the old one is taken back and stays to be seen in the ledger."""
    use = get_object_or_404(_uses(), pk=pk)
    initial = {"quantity": as_typed(use.used)}
    form = UseRightForm(sent(request), material=use.material, shop=request.shop, initial=initial)

    def act() -> str:
        bench.correct_use(use=use, quantity=form.cleaned_data["quantity"], by=request.user, at=timezone.now())
        return _to_step(use.step)

    return _small(request, "quotes/log_edit.html", form, act, use.step, said=_said(use))


@open_to(*EVERY_ROLE)
def time_edit(request: ShopRequest, pk: int) -> HttpResponse:
    time = get_object_or_404(_times(), pk=pk)
    form = MinutesForm(sent(request), shop=request.shop, initial={"minutes": as_typed(time.minutes)})

    def act() -> str:
        bench.correct_minutes(time=time, minutes=form.cleaned_data["minutes"], by=request.user, at=timezone.now())
        return _to_step(time.step)

    said = f"{units.show(time.minutes, 'min')}, {time.person.name}"
    return _small(request, "quotes/log_edit.html", form, act, time.step, said=said)


@open_to(*EVERY_ROLE)
def use_right(request: ShopRequest, pk: int) -> HttpResponse:
    return _right(request, get_object_or_404(_uses(), pk=pk))


@open_to(*EVERY_ROLE)
def time_right(request: ShopRequest, pk: int) -> HttpResponse:
    return _right(request, get_object_or_404(_times(), pk=pk))


def _right(request: ShopRequest, log: StepUse | StepTime) -> HttpResponse:
    """What was asked about is right as it stands."""
    if request.method != "POST":
        return redirect("step", pk=log.step_id)

    def act() -> str:
        bench.said_right(log=log, by=request.user, at=timezone.now())
        return _to_step(log.step)

    return _or_say(request, log.step, act)


@open_to(*EVERY_ROLE)
def step_reopen(request: ShopRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(_steps(), pk=pk)
    if request.method != "POST":
        return redirect("step", pk=row.pk)

    def act() -> str:
        bench.reopen_step(step=row, by=request.user, at=timezone.now())
        return _to_step(row)

    return _or_say(request, row, act)


@open_to(*EVERY_ROLE)
def step_redo(request: ShopRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(_steps(), pk=pk)
    form = RedoForm(sent(request), shop=request.shop)

    def act() -> str:
        data = form.cleaned_data
        again = bench.redo_step(
            step=row,
            cause=data["cause"],
            billed=data["billed"],
            reason=data["reason"],
            by=request.user,
            at=timezone.now(),
        )
        return _to_step(again)

    return _small(request, "quotes/step_redo.html", form, act, row)


@open_to(*EVERY_ROLE)
def step_drop(request: ShopRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(_steps(), pk=pk)
    form = DropForm(sent(request), shop=request.shop)

    def act() -> str:
        bench.drop_step(step=row, reason=form.cleaned_data["reason"], by=request.user, at=timezone.now())
        return reverse("job", args=[row.job_id])

    return _small(request, "quotes/step_drop.html", form, act, row)


def _small(
    request: ShopRequest, template: str, form: ShedForm, act: Callable[[], str], row: Step, **more: Any
) -> HttpResponse:
    return form_page(request, template, form, act, **head(jobs_with_all().get(pk=row.job_id)), step=row, **more)


@open_to(*EVERY_ROLE)
def day(request: ShopRequest) -> HttpResponse:
    """The day's steps of who is logged in, and a total that is spread over those without minutes of their own."""
    today = timezone.localdate()
    return _total(request, DayForm, first=today, last=today, page=reverse("day"))


@open_to(*EVERY_ROLE)
def week(request: ShopRequest) -> HttpResponse:
    """The same from Monday on."""
    today = timezone.localdate()
    return _total(request, WeekForm, first=monday(today), last=today, page=reverse("week"))


def _total(request: ShopRequest, kind: type[DayForm], *, first: date, last: date, page: str) -> HttpResponse:
    form = kind(sent(request), shop=request.shop)

    def act() -> str:
        done = bench.spread_total(
            person=request.user, first=first, last=last, minutes=form.cleaned_data["minutes"], by=request.user,
            at=timezone.now(),
        )  # fmt: skip
        spread = bench.hands_words(sum((time.minutes for time in done), Decimal(0)))
        messages.success(request, f"{spread} spread over {many(len(done), 'step')}.")
        return page

    rows = [{"time": time, "own": bench.own_minutes(time)} for time in bench.minutes_of_days(request.user, first, last)]
    spread = bench.spread_of(request.user, first, last)
    totals = BenchHours.objects.standing().filter(to_day__gte=last - TOTALS_SHOWN).order_by("-to_day", "-pk")
    return form_page(
        request, "quotes/day.html", form, act,
        rows=rows, waiting=bool(spread.open) and spread.takes_another, given=spread.given, first=first, last=last,
        whole_week=kind is WeekForm, totals=totals.filter(person=request.user),
    )  # fmt: skip


@open_to(*EVERY_ROLE)
def total_back(request: ShopRequest, pk: int) -> HttpResponse:
    """A total of hours is taken back in one tap."""
    hours = get_object_or_404(BenchHours.objects.select_related("person"), pk=pk)
    if request.method != "POST":
        return redirect("day")

    def act() -> str:
        bench.take_total_back(hours=hours, by=request.user, at=timezone.now())
        messages.success(request, "Taken back. Its steps stand as planned again.")
        return reverse("day")

    return said_or_done(request, act, reverse("day"))

"""What a step took: mixes, materials, sundries, and logs put right."""

from __future__ import annotations

from itertools import groupby

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone

from inventory.models import Container, Material
from quotes import bench
from quotes.costing.job.sundries import SUNDRIES
from quotes.forms.bench import MinutesForm, MixForm, SundriesForm, UseForm, UseRightForm, WeighForStepForm, as_typed
from quotes.models import Job, Step, StepTime, StepUse
from quotes.views.job.jobs import head, jobs_with_all
from quotes.views.job.steps import (
    booked_on,
    names_on,
    next_dose,
    or_say,
    said_once,
    small_form,
    step_page,
    steps_with_all,
    takers,
    to_step,
)
from quotes.views.refused import refused_shown
from shop.measures import units
from shop.platform.acts import EVERY_ROLE
from shop.web.access import open_to
from shop.web.page import form_page, sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import filled


@open_to(*EVERY_ROLE)
def sundries(request: ShopRequest, pk: int) -> HttpResponse:
    """What the steps of a job share: planned, and booked once for the job."""
    row = get_object_or_404(takers(), pk=pk, operation=SUNDRIES)
    planned = bench.planned_and_used(row)
    form = SundriesForm(sent(request), planned=planned, shop=request.shop)

    def act() -> str:
        bench.book_sundries(line=row, amounts=form.amounts(), signed=signed(request))
        messages.success(request, f"Booked: {row.title}.")
        return reverse("job", args=[row.job_id])

    context = {**head(jobs_with_all().get(pk=row.job_id)), "step": row, "planned": planned, "booked": booked_on(row)}
    context["unbooked"] = row.job.state != Job.State.PICKED_UP and bool(form.left)
    return form_page(request, "quotes/sundries.html", form, act, **context)


@open_to(*EVERY_ROLE)
def mix_new(request: ShopRequest, pk: int) -> HttpResponse:
    """A cup, for this board or for several at once."""
    row = get_object_or_404(steps_with_all(), pk=pk)
    celsius = bench.temperature_now(timezone.localdate())
    dose = next_dose(row, celsius) or next(iter(bench.doses(row, celsius)), None)
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
    form = MixForm(
        sent(request), dose=dose, names=names_on(row), others=others, cup=cup, shop=request.shop, **filled_in
    )

    def act() -> str:
        now = timezone.now()
        if row.state == Step.State.TODO and not bench.late(row, now) and not refused:
            bench.start_step(step=row, signed=signed(request, now), early=True)
        entries = form.entries(row)
        bench.record_mix(step=row, signed=signed(request, now), **entries)
        for other in entries["shares"] or ():
            if (
                other != row
                and bench.can_start(other, now)
                and not bench.late(other, now)
                and not bench.refused_step(other, celsius)
            ):
                bench.start_step(step=other, signed=signed(request, now))
        return to_step(row)

    if form.is_bound and not whole:
        return filled(request, form, act) or step_page(request, row, mix=form)
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


@open_to(*EVERY_ROLE)
def step_use(request: ShopRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(takers(), pk=pk)
    materials = list(Material.objects.in_use().order_by("name"))
    form = UseForm(sent(request), planned=bench.planned_and_used(row), materials=materials, shop=request.shop)

    def act() -> str:
        data = form.cleaned_data
        bench.record_use(
            step=row, material=form.materials[data["material"]], quantity=data["quantity"], customers_own=data["own"],
            signed=signed(request),
        )  # fmt: skip
        return to_step(row)

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
        use = bench.use_by_weight(step=step, container=row, gross_g=form.cleaned_data["gross"], signed=signed(request))
        messages.success(request, f"Booked {said_once(use)} on {step.job.takein.tag}.")
        return to_step(step)

    context = {"container": row, "material": row.lot.material, "steps": steps}
    return form_page(request, "quotes/weigh_for_step.html", form, act, **context)


@open_to(*EVERY_ROLE)
def step_as_planned(request: ShopRequest, pk: int) -> HttpResponse:
    """Everything of the step that is not booked yet, in one tap."""
    row = get_object_or_404(steps_with_all(), pk=pk)
    if request.method != "POST":
        return redirect("step", pk=row.pk)

    def act() -> str:
        bench.use_as_planned(step=row, signed=signed(request))
        return to_step(row)

    return or_say(request, row, act)


@open_to(*EVERY_ROLE)
def use_undo(request: ShopRequest, pk: int) -> HttpResponse:
    use = get_object_or_404(StepUse.objects.select_related("step"), pk=pk)
    if request.method != "POST":
        return redirect("step", pk=use.step_id)

    def act() -> str:
        undone = bench.undo_use(use=use, signed=signed(request))
        messages.success(request, "Undone: " + ", ".join(said_once(each) for each in undone) + ".")
        return to_step(use.step)

    return or_say(request, use.step, act)


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
        bench.correct_use(use=use, quantity=form.cleaned_data["quantity"], signed=signed(request))
        return to_step(use.step)

    return small_form(request, "quotes/log_edit.html", form, act, use.step, said=said_once(use))


@open_to(*EVERY_ROLE)
def time_edit(request: ShopRequest, pk: int) -> HttpResponse:
    time = get_object_or_404(_times(), pk=pk)
    form = MinutesForm(sent(request), shop=request.shop, initial={"minutes": as_typed(time.minutes)})

    def act() -> str:
        bench.correct_minutes(time=time, minutes=form.cleaned_data["minutes"], signed=signed(request))
        return to_step(time.step)

    said = f"{units.show(time.minutes, 'min')}, {time.person.name}"
    return small_form(request, "quotes/log_edit.html", form, act, time.step, said=said)


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
        bench.said_right(log=log, signed=signed(request))
        return to_step(log.step)

    return or_say(request, log.step, act)

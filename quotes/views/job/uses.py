"""What a step took: mixes, materials, sundries, and logs put right."""

from __future__ import annotations

from itertools import groupby

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from inventory.models import Container, Material
from quotes import bench
from quotes.costing.job.sundries import SUNDRIES
from quotes.forms.bench import MinutesForm, MixForm, SundriesForm, UseForm, UseRightForm, WeighForStepForm, as_typed
from quotes.models import Job, Step, StepTime, StepUse
from quotes.views.job.jobs import to_job_of
from quotes.views.job.steps import (
    booked_on,
    head_of,
    names_on,
    next_dose,
    said_once,
    step_page,
    steps_with_all,
    takers,
    to_step,
)
from quotes.views.refused import refused_shown
from shop.measures import units
from shop.platform.acts import EVERY_ROLE
from shop.web.access import open_to
from shop.web.page import Shown, act_page, button, form_page, sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import filled

USES = StepUse.objects.select_related("step__job__takein", "material")
TIMES = StepTime.objects.select_related("step__job__takein", "person")


def to_step_of(log: StepUse | StepTime) -> str:
    return to_step(log.step)


@open_to(*EVERY_ROLE)
def sundries(request: ShopRequest, pk: int) -> HttpResponse:
    """What the steps of a job share: planned, and booked once for the job."""
    row = get_object_or_404(takers(), pk=pk, operation=SUNDRIES)
    planned = bench.planned_and_used(row)
    form = SundriesForm(sent(request), planned=planned, shop=request.shop)

    def act() -> str:
        bench.book_sundries(line=row, amounts=form.amounts(), signed=signed(request))
        return to_job_of(row)

    context = {**head_of(row), "planned": planned, "booked": booked_on(row)}
    context["unbooked"] = row.job.state != Job.State.PICKED_UP and bool(form.left)
    return form_page(request, "quotes/sundries.html", form, act, says=f"Booked: {row.title}.", **context)


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
        entries = form.mixed(row)
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
        request, "quotes/mix.html", form, act, **head_of(row), dose=dose,
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


@act_page(bench.record_use, "quotes/step_use.html", rows=takers(), called="step", to=to_step_of)
def step_use(request: ShopRequest, step: Step) -> Shown:
    materials = list(Material.objects.in_use().order_by("name"))
    keys = [one.material for one in step.planned.materials]
    on_the_scale = Container.objects.filter(emptied_at__isnull=True, lot__material__key__in=keys)
    planned = bench.planned_and_used(step)
    return {
        **head_of(step),
        "form": UseForm(sent(request), planned=planned, materials=materials, shop=request.shop),
        "containers": on_the_scale.select_related("lot__material").order_by("lot__material__name", "pk"),
    }


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

    context: Shown = {"container": row, "material": row.lot.material, "steps": steps}
    return form_page(request, "quotes/weigh_for_step.html", form, act, **context)


step_as_planned = button(  # everything of the step that is not booked yet, in one tap
    bench.use_as_planned, rows=steps_with_all(), called="step", to=to_step
)

use_undo = button(
    bench.undo_use, rows=StepUse.objects.select_related("step"), called="use", to=to_step_of,
    says=lambda undone: f"Undone: {', '.join(said_once(each) for each in undone)}.",
)  # fmt: skip


@act_page(bench.correct_use, "quotes/log_edit.html", rows=USES, called="use", to=to_step_of)
def use_edit(request: ShopRequest, use: StepUse) -> Shown:
    """The right quantity of a use; the old one is taken back and stays to be seen in the ledger."""
    initial = {"quantity": as_typed(use.used)}
    form = UseRightForm(sent(request), material=use.material, shop=request.shop, initial=initial)
    return {**head_of(use.step), "form": form, "said": said_once(use)}


@act_page(bench.correct_minutes, "quotes/log_edit.html", rows=TIMES, called="time", to=to_step_of)
def time_edit(request: ShopRequest, time: StepTime) -> Shown:
    form = MinutesForm(sent(request), shop=request.shop, initial={"minutes": as_typed(time.minutes)})
    return {**head_of(time.step), "form": form, "said": f"{units.show(time.minutes, 'min')}, {time.person.name}"}


use_right = button(bench.said_right, rows=USES, called="log", to=to_step_of)  # what was asked about stands as it is
time_right = button(bench.said_right, rows=TIMES, called="log", to=to_step_of)

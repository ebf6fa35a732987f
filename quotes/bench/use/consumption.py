"""What a step really takes: materials, mixes weighed into a cup, and the undoing of a wrong entry.

Idea: the plan says what is expected, a use says what was; both stand side by side. Stock moves only through
`inventory.stock.ledger`, which never refuses what really happened. A mix may serve steps of several jobs: what was in
the cup, its loss too, is shared by weight, exactly.
What a step stands on is undone here alone (`inventory.stock.standing`).
Locks: materials first, all at once.
"""

from __future__ import annotations

import uuid
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import NamedTuple
from uuid import UUID, uuid4

from django.db.models import Exists, OuterRef, Q

from inventory.counting import weighing
from inventory.models import Container, Lot, Material
from inventory.stock import ledger
from inventory.stock.standing import Stand
from quotes import experience
from quotes.bench.plan.reserving import booked_at_steps, planned_stock, reserve_job, shares
from quotes.bench.plan.warmth import temperature_now
from quotes.bench.use.doses import Dose, doses
from quotes.costing.job.sundries import SUNDRIES
from quotes.models import Job, Mix, Step, StepUse
from shop.measures import units
from shop.measures.apportion import apportion
from shop.platform.acts import EVERY_ROLE, Refused, Signed, action

NOTHING = Decimal(0)
STEP = "step"  # this room, to `inventory.stock.standing`


class Planned(NamedTuple):
    """One material of a step: what is planned and what was booked, in the material's unit."""

    material: Material
    planned: Decimal
    used: Decimal

    @property
    def left(self) -> Decimal:
        """What is planned and not booked yet; nothing once anything was booked, for that is what was really used."""
        return self.planned if self.used == 0 else NOTHING


def planned_and_used(step: Step, warmth: Decimal | None = None) -> list[Planned]:
    """Every material of a step, planned ones in the plan's order, then what was used besides.

    What hardens a mix is planned as it is told in a shop of so many °C; None is as quoted. What steps took of a line of
    sundries counts as used of it.
    """
    keys = [one.material for one in step.planned.materials if one.planned]
    uses = list(step.uses.filter(undone_at__isnull=True).select_related("material"))
    used: dict[str, Decimal] = booked_at_steps(step) if step.is_sundries else {}
    for use in uses:
        used[use.material.key] = used.get(use.material.key, NOTHING) + use.used
    rows = {row.key: row for row in Material.objects.filter(key__in=keys)}
    rows |= {use.material.key: use.material for use in uses}
    planned = planned_stock(step, rows)
    for key, share in _told_shares(step, warmth).items():
        if key in planned:
            planned[key] = units.to_step(planned[key] * share, rows[key].unit)
    return [
        Planned(rows[key], planned.get(key, NOTHING), used.get(key, NOTHING))
        for key in {**planned, **used}
        if key in rows
    ]


def _told_shares(step: Step, warmth: Decimal | None) -> dict[str, Decimal]:
    """What each catalyst of a step is told at over what it was quoted at, by key; without one nothing differs."""
    if warmth is None:
        return {}
    quoted, now = (_hardeners(doses(step, at)) for at in (None, warmth))
    return {key: Decimal(str(now[key] / grams)) for key, grams in quoted.items() if grams and now[key] != grams}


def _hardeners(found: Sequence[Dose]) -> dict[str, float]:
    """Grams of each catalyst or hardener over all mixes, by key."""
    sums: dict[str, float] = {}
    for dose in found:
        sums[dose.hardener] = sums.get(dose.hardener, 0.0) + (dose.plan.hardens_g or 0.0) * dose.count
    return sums


def lock_planned(step: Step) -> dict[str, Material]:
    """Lock all that a step's plan may move, before its job is locked; by key."""
    keys = step.planned.takes | {key for dose in doses(step) for key in (dose.resin, dose.hardener) if key}
    return {row.key: row for row in ledger.lock(Material.objects.filter(key__in=keys)).values()}


@action("use.record", *EVERY_ROLE)
def record_use(
    *,
    step: Step,
    material: Material,
    quantity: Decimal,
    signed: Signed,
    customers_own: bool = False,
    as_planned: bool = False,
    lot: Lot | None = None,
) -> StepUse:
    """Book what a step really took, in the material's unit, at the cost of its lots. Never refused for want of stock.

    The customer's own material is written down without a value and moves nothing.
    """
    if quantity <= 0:
        raise Refused(f"How much {material.name} must be above zero.", field="quantity")
    step = Step.with_sundries.select_related("job__takein").get(pk=step.pk)
    use = book(step, material, quantity, signed=signed, customers_own=customers_own, as_planned=as_planned, lot=lot)
    _changed(step.job, signed.at)
    words = f"Used {units.show(quantity, material.unit)} of {material.name} on {step.job.takein.tag}"
    signed.record(step.job, words)
    return use


def _changed(job: Job, at: datetime) -> None:
    """What was used on a job is another now: so is what it still needs, and of a finished one what it taught."""
    reserve_job(job=job, at=at)
    if not job.on_the_bench:
        experience.mark_stale(at=at)


def book(
    step: Step,
    material: Material,
    quantity: Decimal,
    *,
    signed: Signed,
    mix: Mix | None = None,
    customers_own: bool = False,
    as_planned: bool = False,
    lot: Lot | None = None,
    happened_at: datetime | None = None,
    tap: UUID | None = None,
) -> StepUse:
    """Book a use without asking who may; its material is locked. For the verbs of this room.

    `happened_at` is when it left the shelf, where that is not the moment of writing it down. What is booked under one
    `tap` is undone in one; None is a tap of its own.
    """
    known = next((line for line in planned_and_used(step) if line.material.pk == material.pk), None)
    movements = []
    if not customers_own:
        reason = f"{step.job.takein.tag}: {step.title}"[:200]
        movements = ledger.use(
            material=material,
            quantity=quantity,
            happened_at=happened_at or signed.at,
            signed=signed,
            reason=reason,
            lot=lot,
        )
    use = StepUse.objects.create(
        step=step,
        material=material,
        mix=mix,
        planned=known.left if known else NOTHING,
        used=quantity,
        cost=-sum((movement.value for movement in movements), NOTHING),
        customers_own=customers_own,
        as_planned=as_planned,
        tap=tap or uuid4(),
        at=signed.at,
        by=signed.by,
    )
    use.movements.set(movements)
    return use


@action("use.mix", *EVERY_ROLE)
def record_mix(
    *,
    step: Step,
    signed: Signed,
    which: int = 0,
    resin_g: Decimal | None = None,
    hardener_g: Decimal | None = None,
    shares: Mapping[Step, Decimal] | None = None,
    as_planned: bool = False,
    lot: Lot | None = None,
    tap: UUID | None = None,
) -> Mix:
    """Book one batch really weighed: grams of resin and of catalyst or hardener; None takes what the step shows.

    What it shows is told for the temperature of the day. `which` is the place in the plan's mixes. `shares` gives grams
    that went onto each step, also of other jobs: the whole cup is shared in that proportion. `lot` is what the resin
    came out of, `tap` what it is undone with (None: by itself). Raises Refused where the step plans no such mix.
    """
    planned = doses(step, temperature_now(signed.day))
    if not 0 <= which < len(planned):
        raise Refused("This step has no such mix; book what was used as a material instead.")
    dose = planned[which]
    locked = _lock_keys([dose.resin, dose.hardener])
    if dose.resin not in locked:
        raise Refused(f"The store has no material called {dose.resin}; book what was used as a material instead.")
    if dose.withheld and resin_g is None:
        raise Refused(_withheld(dose), field="resin_g")
    amounts = _amounts(dose, locked, resin_g, hardener_g)
    weights = _weights(step, shares)
    mix = Mix.objects.create(system=dose.plan.system[:20], mixed_at=signed.at, by=signed.by)
    as_planned = as_planned or (resin_g is None and hardener_g is None)
    tap = tap or uuid4()
    for material, amount in amounts:
        for one, part in _shared(amount, weights, material.unit):
            out_of = lot if material.key == dose.resin else None
            book(one, material, part, signed=signed, mix=mix, as_planned=as_planned, lot=out_of, tap=tap)
    words = " and ".join(f"{units.show(amount, material.unit)} {material.name}" for material, amount in amounts)
    for job in sorted({one.job for one in weights}, key=lambda job: job.pk):
        _changed(job, signed.at)
    for one in weights:
        signed.record(one.job, f"Mixed {words} for {one.job.takein.tag}")
    return mix


def steps_that_take(material: Material) -> list[Step]:
    """Steps of jobs on the bench that plan a material and are not done, what is under way first. One query.

    Of what the steps of a job share, its line of sundries alone.
    """
    ahead = Step.with_sundries.on_the_bench()
    rows = ahead.select_related("job__takein").order_by("job", "position")
    asking = [row for row in rows if material.key in row.planned.takes]
    lines = [row for row in asking if row.is_sundries]
    shared = {row.pk for row in asking for line in lines if row.job == line.job and shares(row, line, material.key)}
    asking = [row for row in asking if row.pk not in shared]
    return sorted(asking, key=lambda row: row.state != Step.State.DOING)


@action("use.weigh", *EVERY_ROLE)
def use_by_weight(*, step: Step, container: Container, gross_g: Decimal, signed: Signed) -> StepUse:
    """What went out of a container for a step, by the scale: a mix where the step plans one, else a material used.

    A mix takes its catalyst or hardener in the plan's proportion. Raises Refused when nothing is gone.
    """
    material = container.lot.material
    shown = doses(step, temperature_now(signed.day))
    dose = next((dose for dose in shown if dose.resin == material.key), None)
    _lock_keys([material.key, dose.hardener if dose else ""])
    taken = weighing.gone(container, gross_g)
    if dose is None:
        use = record_use(step=step, material=material, quantity=taken.quantity, lot=taken.lot, signed=signed)
    else:
        grams = weighing.weight_of(material, taken.quantity)
        hardener = dose.hardener_for(grams)
        mix = record_mix(
            step=step, which=dose.which, resin_g=grams, hardener_g=hardener, lot=taken.lot, signed=signed
        )  # fmt: skip
        use = StepUse.objects.get(mix=mix, material=material)
    act = use.movements.values_list("act", flat=True).first()
    weighing.keep_weighing(container, gross_g=gross_g, net=taken.net, signed=signed, act=act)
    return use


def _amounts(
    dose: Dose, locked: Mapping[str, Material], resin_g: Decimal | None, hardener_g: Decimal | None
) -> list[tuple[Material, Decimal]]:
    """What goes out of stock, in each material's unit: catalyst kept in mL is turned by its density."""
    resin_g = dose.resin_g if resin_g is None else resin_g
    hardener_g = dose.hardener_g if hardener_g is None and not dose.withheld else hardener_g
    if resin_g <= 0:
        raise Refused("Resin must be above zero grams.", field="resin_g")
    if hardener_g is not None and hardener_g < 0:
        raise Refused("Catalyst must not be below zero.", field="hardener_g")
    pairs = [(dose.resin, resin_g, "resin_g"), (dose.hardener, hardener_g, "hardener_g")]
    found = []
    for key, grams, field in pairs:
        if key in locked and grams:
            material = locked[key]
            try:
                amount = units.to_stock(
                    units.quantity(grams, "g"),
                    material.unit,
                    density_kg_m3=material.density_kg_m3,
                    name=material.name,
                )
            except units.UnitError as problem:
                raise Refused(problem.sentence, field=field) from None
            found.append((material, amount))
    return found


def _weights(step: Step, shares: Mapping[Step, Decimal] | None) -> dict[Step, Decimal]:
    weights = {step: Decimal(1)} if not shares else dict(shares)
    if any(weight < 0 for weight in weights.values()) or sum(weights.values()) <= 0:
        raise Refused("Say how many grams went onto each job; none may be below zero.", field="shares")
    fresh = Step.objects.select_related("job__takein").in_bulk([one.pk for one in weights])
    return {fresh[one.pk]: weight for one, weight in weights.items() if weight > 0}


def _shared(amount: Decimal, weights: Mapping[Step, Decimal], unit: str) -> list[tuple[Step, Decimal]]:
    """An amount of stock over the steps by weight; a step too light for the smallest that can be booked gets none."""
    shares = apportion(units.to_step(amount, unit), list(weights.values()), units.STOCK_STEP[unit])  # type: ignore[index]
    return [(step, share) for step, share in zip(weights, shares, strict=True) if share]


@action("use.as_planned", *EVERY_ROLE)
def use_as_planned(*, step: Step, signed: Signed) -> list[StepUse]:
    """Book all that is planned for a step and not booked yet, mixes as shown. Raises Refused when nothing is left."""
    materials = lock_planned(step)
    step = Step.objects.select_related("job__takein").get(pk=step.pk)
    uses = book_the_rest(step, materials, signed=signed)
    if not uses:
        raise Refused("All that is planned for this step is booked already.")
    reserve_job(job=step.job, at=signed.at)
    signed.record(step.job, f"“{step.title}” used as planned")
    return uses


def book_the_rest(step: Step, materials: Mapping[str, Material], *, signed: Signed) -> list[StepUse]:
    """The uses of all that is planned and not booked yet; `materials` are locked. Mixes first, in their cups, as told.

    Raises Refused where a dose that was not weighed yet is withheld.
    """
    warmth = temperature_now(signed.day)
    booked = {line.material.key for line in planned_and_used(step) if line.used}
    tap = uuid4()
    for dose in doses(step, warmth):
        if dose.resin in materials and dose.resin not in booked:
            if dose.withheld:
                raise Refused(_withheld(dose))
            for _ in range(dose.count):
                record_mix(step=step, which=dose.which, signed=signed, as_planned=True, tap=tap)
    for line in planned_and_used(step, warmth):
        if line.left > 0 and line.material.key in materials:
            book(step, line.material, line.left, signed=signed, as_planned=True, tap=tap)
    return list(step.uses.filter(tap=tap))


def _withheld(dose: Dose) -> str:
    return f"No dose is told, so nothing is booked as planned: {dose.withheld} What was really mixed, book in grams."


@action("use.undo", *EVERY_ROLE)
def undo_use(*, use: StepUse, signed: Signed) -> list[StepUse]:
    """Take back a use with all that was booked in the same tap: stock is put back exactly. Returns the uses undone."""
    same_tap = StepUse.objects.filter(tap=use.tap, undone_at__isnull=True)
    ledger.lock(Material.objects.filter(pk__in=same_tap.values("material")))
    uses = list(same_tap.select_related("material", "step__job__takein").prefetch_related("movements"))
    if not uses:
        raise Refused("This was already undone.")
    for act in dict.fromkeys(movement.act for each in reversed(uses) for movement in each.movements.all()):
        ledger.undo(act=act, signed=signed, reason="wrong entry on the job", room=STEP)
    StepUse.objects.filter(pk__in=[each.pk for each in uses]).update(undone_at=signed.at)
    _sundries_to_book(uses)
    for job in sorted({each.step.job for each in uses}, key=lambda job: job.pk):
        _changed(job, signed.at)
        names = ", ".join(dict.fromkeys(each.material.name for each in uses))
        signed.record(job, f"Undid on {job.takein.tag}: {names}"[:400])
    return uses


def _sundries_to_book(undone: Collection[StepUse]) -> None:
    """Lines of sundries that were undone are to be booked again; once the work has ended, if nothing of one stands."""
    lines = Step.with_sundries.filter(pk__in=[use.step_id for use in undone], operation=SUNDRIES)
    standing = StepUse.objects.filter(step=OuterRef("pk"), undone_at__isnull=True)
    again = lines.filter(Q(job__state=Job.State.OPEN) | ~Exists(standing))
    again.update(state=Step.State.TODO, done_at=None, done_by=None)


def _lock_keys(keys: Sequence[str]) -> dict[str, Material]:
    return {row.key: row for row in ledger.lock(Material.objects.filter(key__in=[k for k in keys if k])).values()}


def steps_standing(acts: Collection[uuid.UUID]) -> dict[uuid.UUID, Stand]:
    """The steps that stand on acts of the ledger, by act. One query."""
    links = StepUse.movements.through.objects.filter(movement__act__in=acts, stepuse__undone_at__isnull=True)
    step = "stepuse__step"
    rows = links.order_by("pk").values_list("movement__act", step, f"{step}__title", f"{step}__job__takein__tag")
    return {
        act: Stand(STEP, f"step “{title}” of {tag}", "Undo it on the page of that step.", "step", pk)
        for act, pk, title, tag in rows
    }

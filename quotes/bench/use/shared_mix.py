"""One cup for several boards: steps of the same operation and resin that may be done now, and what they take together.

Idea: each cup leaves some resin behind, and none is smaller than can be metered; boards that are ready for the same
coat at once share both. Each step's net resin comes from its quote's line; one cup's loss, and the smallest mix, count
once. Never more than the largest mix that is used in time. Reading only, in a fixed number of queries.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from itertools import groupby
from typing import Any

from inventory.models import Material
from quotes.bench.plan.looking import dried, refused_alone
from quotes.bench.plan.order import heads, late, waits
from quotes.bench.plan.warmth import temperature_now
from quotes.bench.use.doses import Dose, doses
from quotes.costing import CONSTANTS, REGISTRY
from quotes.costing.snapshot import SnapshotLine
from quotes.models import Step, StepUse, WayPart
from quotes.quoting import conditions_now, shop_day
from shop.models import Profile

GRAM = Decimal(1)


@dataclass(frozen=True)
class Together:
    """One cup: the steps it serves with the grams of resin that each takes, and the grams in the cup."""

    title: str
    resin: str
    onto: Mapping[Step, Decimal]
    grams: Decimal
    apart: Decimal

    @property
    def first(self) -> Step:
        """The step whose page the cup is mixed on."""
        return next(iter(self.onto))

    @property
    def tags(self) -> list[str]:
        return [step.job.takein.tag for step in self.onto]


@dataclass(frozen=True)
class _Wish:
    """What one step takes of a resin, in grams: on the board, left in its cup, the smallest mix, and all as planned."""

    step: Step
    dose: Dose
    net: float
    loss: float
    least: float


def together_now(at: datetime, own: Mapping[str, Any], profile: Profile | None = None) -> list[Together]:
    """The cups that serve more than one board now, the largest saving first; `own` are the shop's own figures."""
    alike: dict[tuple[str, str, str, float], list[tuple[Step, Dose]]] = {}
    for step, dose in _ready(at, profile):
        alike.setdefault(_kind(step, dose), []).append((step, dose))
    several = {kind: found for kind, found in alike.items() if len(found) > 1}
    if not several:
        return []
    names = dict(Material.objects.filter(key__in={kind[2] for kind in several}).values_list("key", "name"))
    of = {repair for found in several.values() for step, _ in found for repair in step.repairs if repair}
    lines = {part.pk: part.estimate.lines for part in WayPart.objects.filter(pk__in=of).only("snapshot")}
    cups = [
        _cup(group, names.get(resin, resin))
        for (_, system, resin, _), found in several.items()
        for group in _fitting([_wish(step, dose, lines) for step, dose in found], _most(system, own))
        if len(group) > 1
    ]
    return sorted(cups, key=lambda cup: cup.grams - cup.apart)


def together_with(step: Step, at: datetime, own: Mapping[str, Any]) -> Together | None:
    """The cup that serves this step and others now, or None."""
    return next((cup for cup in together_now(at, own) if step in cup.onto), None)


def _ready(at: datetime, profile: Profile | None) -> list[tuple[Step, Dose]]:
    """Every step that may be done now and mixes one cup, of which nothing was weighed yet, with its told dose."""
    ahead = Step.objects.on_the_bench()
    ahead = ahead.only("job", "part", "serves", "position", "state", "earliest_at", "latest_at").order_by(
        "job", "position"
    )
    ready = [
        step.pk
        for _, steps in groupby(ahead, key=lambda step: step.job_id)
        for step in heads(steps)
        if not waits(step, at) and not late(step, at)
    ]
    weighed = StepUse.objects.filter(mix__isnull=False, undone_at__isnull=True).values("step")
    rows = Step.objects.filter(pk__in=ready).exclude(pk__in=weighed).select_related("job__takein__board")
    warmth = temperature_now(shop_day(at, profile))
    allowed = _allowed(rows.annotate(dried=dried()).order_by("job", "position"), profile, warmth)
    cups = [(step, doses(step, warmth)) for step in allowed]
    return [
        (step, dose)
        for step, found in cups
        for dose in found
        if len(found) == 1 and dose.count == 1 and not dose.withheld
    ]


def _allowed(steps: Iterable[Step], profile: Profile | None, warmth: Decimal | None) -> list[Step]:
    """Without those that must not be done to their boards as they are now."""
    profile = profile or Profile.objects.get()
    return [
        step
        for step in steps
        if not refused_alone(step.planned, conditions_now(step.job.takein, profile, warmth), dried=step.dried)  # type: ignore[attr-defined]
    ]


def _kind(step: Step, dose: Dose) -> tuple[str, str, str, float]:
    """What must be the same for one cup.

    The operation, the system, the resin, and its share of catalyst or hardener.
    """
    plan = dose.plan
    return step.operation, plan.system, dose.resin, round((plan.hardens_g or 0.0) / plan.resin_g, 4)


def _wish(step: Step, dose: Dose, lines: Mapping[int, Sequence[SnapshotLine]]) -> _Wish:
    """The net and the cup's part of a dose, in the proportion of its lines in the quote; all of it net without them."""
    grams = dose.plan.resin_g
    own = [_line(lines.get(repair or 0, ()), plan.index, dose.resin) for repair, plan in step.own_plans]
    found = [line for line in own if line is not None and line.use]
    if len(found) < len(own):
        return _Wish(step, dose, grams, 0.0, 0.0)
    share = grams / math.fsum(line.use for line in found)
    net = math.fsum(line.need * line.factor.value for line in found)
    loss = math.fsum(line.mixes * line.loss for line in found)
    return _Wish(step, dose, share * net, share * loss, share * math.fsum(line.least for line in found))


def _line(lines: Sequence[SnapshotLine], index: int, resin: str) -> SnapshotLine | None:
    """The line of a resin at a step of its repair."""
    return next((one for one in lines if one.step == index and one.material == resin), None)


def _most(system: str, own: Mapping[str, Any]) -> float:
    """The largest mix in grams, the shop's own before the trade's."""
    name = f"most_mix_{system}_g"
    if name in own:
        return float(own[name][0])
    return CONSTANTS[name].value if name in CONSTANTS else float("inf")


def _fitting(wishes: Iterable[_Wish], most: float) -> list[list[_Wish]]:
    """The wishes in cups of at most so many grams, in their order."""
    cups: list[list[_Wish]] = [[]]
    for wish in wishes:
        if cups[-1] and sum(each.net for each in cups[-1]) + wish.net > most:
            cups.append([])
        cups[-1].append(wish)
    return cups


def _cup(wishes: list[_Wish], resin: str) -> Together:
    net, operation = sum(wish.net for wish in wishes), wishes[0].step.operation
    grams = max(net + max(wish.loss for wish in wishes), max(wish.least for wish in wishes))
    return Together(
        REGISTRY[operation].name if operation in REGISTRY else wishes[0].step.title,
        resin,
        {wish.step: max(_whole(wish.net), GRAM) for wish in wishes},
        _whole(grams),
        sum((wish.dose.resin_g for wish in wishes), Decimal(0)),
    )


def _whole(grams: float) -> Decimal:
    return Decimal(str(grams)).quantize(GRAM)

"""What the damages of one board share, and the lines of cost that each of them bears.

Whatever is taken once (a visit, a set-up, a pair of gloves for a session, a cup, the smallest part of a disc) is taken
for all damages that meet there, and told apart in proportion to what each would take alone. By size everything is each
damage's own.
Invariants: the lines of the damages add up to the whole; none bears more than it would alone; all of them together take
no less than any one; and a further damage takes no more than it would alone.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from quotes.costing.basis.lazy_words import Words
from quotes.costing.parts.inputs import Shop
from quotes.costing.parts.measures import Given
from quotes.costing.parts.result import CostLine, MixedLine, PooledLine, Share, TimeLine
from quotes.costing.parts.rework_allowance import rework_allowances
from quotes.costing.parts.usage import rounded_use
from quotes.costing.recipes.recipe import CoreRecipe
from quotes.costing.snapshot import Problem
from quotes.costing.steps.sessions import FURTHER_VISIT, HANDLING, Stage, lay_in_stages, set_up_share
from quotes.costing.steps.windows import WindowedStep

Row = tuple[int, CostLine]  # a line with the number of the step that it belongs to


class Session(NamedTuple):
    """A session of one damage: the step that bears its set-up, and the real minutes of that, alone on the bench."""

    step: WindowedStep
    real: float


class Cup(NamedTuple):
    """Conditions that steps of several damages must share to take their resin from one cup, in one stage."""

    operation: str
    resin: str
    percent: float  # catalyst
    paste: str  # what it is thickened with


def cup_of(step: WindowedStep) -> Cup | None:
    """Cup that a step takes its resin from; None where it mixes none, or pours at once what it stirs."""
    work = step.work
    if work.batch is None or not work.mixes:
        return None
    return Cup(work.operation, work.batch.resin, work.mixes[0].percent or 0.0, work.paste)


@dataclass
class WorkedDamage:
    """A damage worked out by itself: its steps, laid in stages, and what it would take in each session alone.

    `once` are the small things that a session takes once, by session and material with the step that takes them; `cups`
    the mixes that may serve several damages; `visits` the steps that a board takes once.
    """

    recipe: CoreRecipe
    values: dict[str, Given]
    steps: list[WindowedStep]
    problems: list[Problem]
    sessions: dict[tuple[Stage, str], Session] = field(default_factory=dict)
    once: dict[tuple[Stage, str, str], tuple[WindowedStep, Share]] = field(default_factory=dict)
    cups: dict[tuple[Stage, Cup, int], WindowedStep] = field(default_factory=dict)
    visits: dict[str, list[WindowedStep]] = field(default_factory=dict)

    @classmethod
    def of(
        cls,
        recipe: CoreRecipe,
        values: dict[str, Given],
        steps: list[WindowedStep],
        problems: list[Problem],
        shop: Shop,
    ) -> WorkedDamage:
        """Worked damage from its steps: laid in their stages, with what each session of them takes once."""
        lay_in_stages(steps)
        made = cls(recipe, values, steps, problems)
        places, first = 0.0, None
        met: dict[tuple[Any, ...], int] = defaultdict(int)
        for step in steps:
            work = step.work
            if step.operation in FURTHER_VISIT:
                made.visits.setdefault(step.operation, []).append(step)
            if step.kind:
                made._meet(step, shop)
                if work.places:
                    first = first or step
                    places = max(places, work.places)
            for share in work.shares:
                if share.goes_by == "session":
                    key = (step.stage, step.kind, share.supply.material or "")
                    known = made.once.get(key)
                    if known is None or share.need > known[1].need:
                        made.once[key] = (step, share)
            cup = cup_of(step)
            if cup is not None:
                met[step.stage, cup] += 1
                made.cups[step.stage, cup, met[step.stage, cup]] = step
        if first is not None:
            first.handling = shop.figures[HANDLING.name] * places
        return made

    def _meet(self, step: WindowedStep, shop: Shop) -> None:
        """The step bears the set-up of its session if that takes it longer than the steps before it there."""
        boards, share = set_up_share(shop, step.kind)
        step.boards = boards
        real = step.work.set_up * share * step.work.time_factor.expected(True)
        known = self.sessions.get((step.stage, step.kind))
        if real and (known is None or real > known.real):
            self.sessions[step.stage, step.kind] = Session(step, real)


def lines_of(damages: Sequence[WorkedDamage], shop: Shop) -> list[list[Row]]:
    """Lines that each of these damages bears when all of them are done in one go, with the step of each.

    Sets the minutes of their steps. None has lines while one of them has problems.
    """
    if any(damage.problems for damage in damages):
        _set_minutes(damages, shop)
        return [[] for _ in damages]
    pools, cups = _shared(damages, shop)
    return [_rows(damage, pool, cups, shop) for damage, pool in zip(damages, pools, strict=True)]


def costs_of(damages: Sequence[WorkedDamage], shop: Shop) -> list[float]:
    """Cost in currency of each of these damages when all are done in one go: the sums of `lines_of`, without the lines.

    Sets the minutes of their steps. None of them may have problems.
    """
    if shop.again:  # goes by the lines of every step
        rows = lines_of(damages, shop)
        return [
            math.fsum([x.cost for _, x in own] + [x.cost for x in rework_allowances(own, shop.again)]) for own in rows
        ]
    pools, cups = _shared(damages, shop)
    minute = sum(supply.price for _, supply in shop.hours)
    return [_cost(damage, pool, cups, minute) for damage, pool in zip(damages, pools, strict=True)]


def _cost(
    damage: WorkedDamage, pools: Mapping[int, list[PooledLine]], cups: Mapping[int, float], minute: float
) -> float:
    """Cost of one damage in currency: its own lines, its share of pools and cups, and its minutes."""
    costs = [line.cost for lines in pools.values() for line in lines]
    for step in damage.steps:
        work, ratio = step.work, cups.get(id(step))
        costs.append(step.standard_minutes * step.time_factor.expected(True) * minute)
        for line in work.lines:
            costs.append(line.with_others(ratio).cost if ratio and isinstance(line, MixedLine) else line.cost)
    return math.fsum(costs)


def _shared(damages: Sequence[WorkedDamage], shop: Shop) -> tuple[list[dict[int, list[PooledLine]]], dict[int, float]]:
    """What the steps of each damage share, by the step that takes it first; and by step the part of its cups."""
    _set_minutes(damages, shop)
    once, cups = _once(damages), _cups(damages)
    pools = [_pools(damage, once, cups) for damage in damages]
    if len(damages) > 1:
        _share_pools(pools)
    return pools, cups


def _set_minutes(damages: Sequence[WorkedDamage], shop: Shop) -> None:
    """Set the set-up that each step bears and its hands-on minutes; what is done once a visit is told apart."""
    total: dict[tuple[Stage, str], float] = defaultdict(float)
    most: dict[tuple[Stage, str], float] = defaultdict(float)
    for damage in damages:
        for key, session in damage.sessions.items():
            total[key] += session.real
            most[key] = max(most[key], session.real)
    visits = _visits(damages, shop) if len(damages) > 1 else {}
    for damage in damages:
        for step in damage.steps:
            step.set_up, step.hands = 0.0, step.work.hands * visits.get(step.operation, 1.0)
        for key, session in damage.sessions.items():
            step = session.step
            step.met = most[key] / total[key]
            step.set_up = step.work.set_up * set_up_share(shop, step.kind)[1] * step.met
        for step in damage.steps:
            standard = step.standard_minutes
            step.time_factor = step.work.time_factor.at(step.set_up / standard if standard else 0.0)
            step.minutes = standard * step.time_factor.value


def _visits(damages: Sequence[WorkedDamage], shop: Shop) -> dict[str, float]:
    """Share of what each damage would take alone in a visit that it takes with the others, by operation.

    The longest is done in full, of each further one only what a further damage takes.
    """
    found = {}
    for operation, more in FURTHER_VISIT.items():
        alone = [step.work.hands for damage in damages for step in damage.visits.get(operation, ())]
        further = [min(shop.figures[more.name], minutes) for minutes in alone]
        if sum(alone) > 0:
            longest = max(minutes - least for minutes, least in zip(alone, further, strict=True))
            found[operation] = (sum(further) + longest) / sum(alone)
    return found


def _once(damages: Sequence[WorkedDamage]) -> Mapping[tuple[Stage, str, str], float]:
    """How much of what each damage would take in a session alone it takes with the others."""
    needs: dict[tuple[Stage, str, str], list[float]] = defaultdict(list)
    for damage in damages:
        for key, (_, share) in damage.once.items():
            needs[key].append(share.need)
    return {key: max(found) / sum(found) for key, found in needs.items()}


def _cups(damages: Sequence[WorkedDamage]) -> dict[int, float]:
    """Share of cups by step (its id) that uses one with others: cups mixed together over cups mixed alone."""
    if len(damages) == 1:
        return {}
    met: dict[tuple[Stage, Cup, int], list[WindowedStep]] = defaultdict(list)
    for damage in damages:
        for cup, step in damage.cups.items():
            met[cup].append(step)
    found: dict[int, float] = {}
    for steps in met.values():
        if len(steps) > 1:
            ratio = mixed_together(steps) / sum(step.work.mixes[0].count for step in steps)
            found |= {id(step): ratio for step in steps}
    return found


def mixed_together(steps: Sequence[WindowedStep]) -> int:
    """Number of cups these steps take together: by what one may hold, by the pot life, by the layers of each."""
    works = [step.work for step in steps]
    batches = [work.batch for work in works if work.batch is not None]
    counts = [work.mixes[0].count for work in works]
    gel = min(gel[0] for work in works if (gel := work.mixes[0].gel_min))
    held = math.ceil(sum(one.expected_g for one in batches) / min(one.most_g for one in batches) - 1e-9)
    spread = math.ceil(sum(work.hands for work in works) / gel - 1e-9)
    return min(sum(counts), max(*counts, held, spread))


def _pools(
    damage: WorkedDamage, once: Mapping[tuple[Stage, str, str], float], cups: Mapping[int, float]
) -> dict[int, list[PooledLine]]:
    """Pooled lines of the steps of one damage, by the step that takes each first."""
    pools: dict[str | None, PooledLine] = {}
    first: dict[int, list[PooledLine]] = defaultdict(list)
    for step in damage.steps:
        for share in step.work.shares:
            need, key = share.need, share.supply.material
            if share.goes_by == "minute":
                need *= step.standard_minutes
            elif share.goes_by == "cup":
                need *= cups.get(id(step), 1.0)
            elif share.goes_by == "session":
                session = (step.stage, step.kind, key or "")
                if damage.once[session][0] is not step:
                    continue
                need *= once[session]
            pool = pools.get(key)
            if pool is None:
                pool = pools[key] = PooledLine(step.operation, share)
                first[step.index].append(pool)
            pool.parts.append((step.index, need, share.factor))
    for pool in pools.values():
        pool.add_up()
    return first


def _share_pools(pools: Sequence[Mapping[int, list[PooledLine]]]) -> None:
    """Share the smallest use of something, or its whole piece, once over all damages that take it."""
    met: dict[str | None, list[PooledLine]] = defaultdict(list)
    for pool in pools:
        for lines in pool.values():
            for line in lines:
                met[line.supply.material].append(line)
    for lines in met.values():
        if len(lines) == 1:
            continue
        if lines[0].whole:
            _share_pieces(lines)
        else:
            for line in lines:
                line.least /= len(lines)
        for line in lines:
            line.reckon()


def _share_pieces(lines: Sequence[PooledLine]) -> None:
    """Whole pieces over all damages; what they are more than the needs is told apart as it would be alone."""
    needs = [line.need * line.factor.value for line in lines]
    above = [line.use - need for line, need in zip(lines, needs, strict=True)]
    more = rounded_use(sum(needs), 0.0, True) - sum(needs)
    for line, need, own in zip(lines, needs, above, strict=True):
        line.least = need + more * own / sum(above) if sum(above) > 0 else need
        line.whole = False


def _rows(
    damage: WorkedDamage, pools: Mapping[int, list[PooledLine]], cups: Mapping[int, float], shop: Shop
) -> list[Row]:
    """Lines of one damage with their steps; what its steps share is one line at the step that uses it first."""
    rows: list[Row] = []
    for step in damage.steps:
        index, work = step.index, step.work
        rows += [(index, line) for line in pools.get(index, ())]
        ratio = cups.get(id(step))
        for line in work.lines:
            rows.append((index, line.with_others(ratio) if ratio and isinstance(line, MixedLine) else line))
        need, words = step.standard_minutes, step.minutes_formula
        for kind, supply in shop.hours:
            name = Words("{}: {}", supply.name, work.title)
            rows.append(
                (index, TimeLine(work.operation, kind, supply, name, need, words, step.time_factor, step.set_up))
            )
    return rows

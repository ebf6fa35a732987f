"""The steps of a board with several damages as the bench meets them: one "inspect", one hot coat with one dose.

Steps of the same operation in the same stage are one step; each keeps what it is to each damage, so that what a damage
took can still be said. Within a stage every damage keeps the order of its own steps.
Invariant: what the merged steps plan, in minutes and in every material, adds up to what the damages' own steps plan.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from quotes.costing.basis.going_off import Wait
from quotes.costing.basis.lazy_words import without_doses
from quotes.costing.job.estimated import Estimate
from quotes.costing.job.sharing import WorkedDamage, cup_of, mixed_together
from quotes.costing.parts.result import MixedLine
from quotes.costing.snapshot import Does, PlannedMaterial, PlannedMix, PlannedStep, Serving
from quotes.costing.steps.mix_words import stirred_in_words
from quotes.costing.steps.operation import REGISTRY
from quotes.costing.steps.windows import WindowedStep

Serves = tuple[int, WindowedStep]  # number of a damage, from 0, and its own step


class MergedStep:
    """A step of the bench: the steps of one or more damages that are done together."""

    def __init__(self, index: int, serves: Sequence[Serves]) -> None:
        """Step `index` of the bench, before its window is known."""
        self.index = index
        self.serves = serves
        self.minutes = sum(step.minutes for _, step in serves)
        self.earliest_start_h = 0.0
        self.latest_start_h: float | None = None
        self.if_late = ""
        self.in_time = True
        self.sitting = False

    @property
    def pause_h(self) -> float:
        """Hours within it in which the board waits; waits at several places run side by side."""
        return max(step.work.pause_h for _, step in self.serves)

    @property
    def first(self) -> WindowedStep:
        """Step of the first damage that it serves."""
        return self.serves[0][1]

    @property
    def title(self) -> str:
        """Title that its steps share, else the name of the operation."""
        titles = {step.title for _, step in self.serves}
        return titles.pop() if len(titles) == 1 else REGISTRY[self.first.operation].name

    def mixes(self, uses: Mapping[int, float]) -> tuple[PlannedMix, ...]:
        """Mixes with one dose for all damages it serves; `uses` are the shares of `shares_of_mixes`."""
        steps = [step for _, step in self.serves if step.mixes]
        if len(steps) < 2 or not all(cup_of(step) for step in steps):
            return tuple(one for step in steps for one in step.mixes)
        count = mixed_together(steps)
        first = [step.mixes[0] for step in steps]
        alone = [mix.count * uses.get(id(step), 1.0) for step, mix in zip(steps, first, strict=True)]
        return (_one_cup(first, alone, count),)

    def instruction(self, names: Sequence[str], mixes: Sequence[PlannedMix]) -> str:
        """Instruction for each place, by the damages' names; what is stirred into a cup for several comes first."""
        if len(self.serves) == 1:
            damage, step = self.serves[0]
            return f"{names[damage]}: {step.instruction}" if len(names) > 1 and step.instruction else step.instruction
        one_dose = len(mixes) < sum(len(step.mixes) for _, step in self.serves)
        said: dict[str, list[str]] = defaultdict(list)
        for damage, step in self.serves:
            own = without_doses(step.work.told) if one_dose else step.instruction
            said[" ".join(own.split())].append(names[damage])
        stirred = "".join(map(stirred_in_words, mixes)) if one_dose else ""
        return stirred + " ".join(f"{', '.join(where)}: {words}".strip() for words, where in said.items())

    def kept(
        self, names: Sequence[str], parts: Sequence[Sequence[PlannedStep]], uses: Mapping[int, float]
    ) -> PlannedStep:
        """Step as a way keeps it; `parts` are each damage's own planned steps, `uses` the shares of its mixes."""
        serves = [(damage, parts[damage][step.index - 1]) for damage, step in self.serves]
        own = [step for _, step in serves]
        mixes = self.mixes(uses)
        return replace(
            own[0],
            index=self.index,
            title=self.title,
            instruction=self.instruction(names, mixes),
            minutes=self.minutes,
            earliest_start_h=self.earliest_start_h,
            latest_start_h=self.latest_start_h,
            if_late=self.if_late,
            same_sitting=self.sitting,
            pause_h=self.pause_h,
            cuts_back=any(step.cuts_back for step in own),
            wait=_longest([step.wait for step in own if step.wait is not None]),
            mixes=mixes,
            materials=added(material for step in own for material in step.materials),
            pieces=tuple(piece for step in own for piece in step.pieces),
            measures=() if len(own) > 1 else own[0].measures,
            cautions=tuple(dict.fromkeys(words for step in own for words in step.cautions)),
            weight_g=sum(step.weight_g for step in own),
            bench_hours_ok=self.in_time,
            does=_does([step.does for step in own if step.does]),
            serves=tuple(
                Serving(damage, None, step.index, step.minutes, step.does, step.mixes, step.materials)
                for damage, step in serves
            ),
        )


def _one_cup(first: Sequence[PlannedMix], alone: Sequence[float], count: int) -> PlannedMix:
    """Dose for several mixes of a kind; `alone` is how many cups each would be, `count` how many they are."""

    def each(amounts: Iterable[float]) -> float:
        return sum(amount * share for amount, share in zip(amounts, alone, strict=True)) / count

    summed: dict[str, Any] = {
        name: each(getattr(mix, name) for mix in first) for name in _AMOUNTS if getattr(first[0], name) is not None
    }
    if "drops" in summed:
        summed["drops"] = round(summed["drops"])
    stirred = tuple(
        one._replace(amount=each(mix.stirred_in[at].amount for mix in first))
        for at, one in enumerate(first[0].stirred_in)
    )
    return replace(first[0], **summed, stirred_in=stirred, count=count)


_AMOUNTS = ("resin_g", "catalyst_g", "catalyst_ml", "drops", "hardener_g", "part_a_g", "part_b_g", "liquid_ml")


def merged(damages: Sequence[WorkedDamage]) -> list[MergedStep]:
    """Steps of all damages in the order of the bench, those that are done together as one."""
    stages: dict[Any, list[list[tuple[Any, Serves]]]] = defaultdict(list)
    for number, damage in enumerate(damages):
        met: dict[Any, int] = defaultdict(int)
        own: dict[Any, list[tuple[Any, Serves]]] = defaultdict(list)
        for step in damage.steps:
            identity = (step.stage, step.operation, cup_of(step))
            met[identity] += 1
            own[step.stage].append(((*identity, met[identity]), (number, step)))
        for stage, steps in own.items():
            stages[stage].append(steps)
    found: list[MergedStep] = []
    for stage in sorted(stages):
        for serves in _in_order(stages[stage]):
            found.append(MergedStep(len(found) + 1, serves))
    return found


def _in_order(runs: Iterable[Sequence[tuple[Any, Serves]]]) -> list[list[Serves]]:
    """Runs of steps laid into one another: like goes to like, and no run's own order is turned."""
    order: list[tuple[Any, list[Serves]]] = []
    for run in runs:
        at = 0
        for identity, serves in run:
            known = next((place for place in range(at, len(order)) if order[place][0] == identity), None)
            if known is None:
                order.insert(at, (identity, [serves]))
            else:
                order[known][1].append(serves)
                at = known
            at += 1
    return [steps for _, steps in order]


def shares_of_mixes(parts: Sequence[Estimate]) -> dict[int, float]:
    """Shares by step (its id): what its mixes take with the others over what they would take alone."""
    found = {}
    for part in parts:
        lines = {(step, line.supply.material): line for step, line in part.rows if isinstance(line, MixedLine)}
        for step in part.steps:
            own = [line for line in step.work.lines if isinstance(line, MixedLine)]
            if own:
                now = lines[step.index, own[0].supply.material]
                found[id(step)] = now.use / own[0].use
    return found


def _longest(waits: Sequence[Wait]) -> Wait | None:
    """Wait of steps that are done together: the longest of each hour, the first end of a window, all they hang on."""
    if not waits:
        return None
    until = [one.coat_until_h for one in waits if one.coat_until_h is not None]
    return Wait(
        max(one.coat_h for one in waits),
        max(one.cut_h for one in waits),
        max(one.touch_h for one in waits),
        min(until, default=None),
        max(one.polish_h for one in waits),
        tuple(one for wait in waits for one in wait.slowed),
    )


def added(materials: Iterable[PlannedMaterial]) -> tuple[PlannedMaterial, ...]:
    """Materials that several steps plan to use, each once; how the plan was made adds up with it."""
    found: dict[str, PlannedMaterial] = {}
    for one in materials:
        known = found.get(one.material)
        if known is None:
            found[one.material] = one._replace(planned=0.0 + one.planned, need=0.0 + one.need)
            continue
        made, more = known.made_of, one.made_of
        found[one.material] = known._replace(
            planned=known.planned + one.planned,
            need=known.need + one.need,
            made_of=made.beside(more) if made and more else made or more,
        )
    return tuple(found.values())


def _does(all_of: Sequence[Does]) -> Does:
    """Effect on the board of steps that are done together; the place only where it is one."""
    first = all_of[0]
    return Does(
        tuple(dict.fromkeys(stuff for one in all_of for stuff in one.puts)),
        first.place if all(one.place == first.place for one in all_of) else "",
        first.over if all(one.over == first.over for one in all_of) else "",
        max(one.room_c for one in all_of),
    )

"""The steps of a board with several damages as the bench meets them: one "inspect", one hot coat with one dose.

Steps of the same operation in the same stage are one step; each keeps what it is to each damage, so that what a damage
took can still be said. Within a stage every damage keeps the order of its own steps.
Invariant: what the merged steps plan, in minutes and in every material, adds up to what the damages' own steps plan.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from quotes.costing.basis.serving import OWN
from quotes.costing.basis.words import without_doses
from quotes.costing.job.estimated import Estimate
from quotes.costing.job.sharing import WorkedDamage, cup_of, mixed_together
from quotes.costing.parts.result import MixedLine
from quotes.costing.steps.mixing import stirred_in_words
from quotes.costing.steps.operation import REGISTRY
from quotes.costing.steps.windows import WindowedStep

Serves = tuple[int, WindowedStep]  # number of a damage, from 0, and its own step


class MergedStep:
    """One step of the bench: the steps of one or more damages that are done together."""

    def __init__(self, index: int, serves: Sequence[Serves]) -> None:
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
        """Hours within it in which the board waits: those of its places run side by side."""
        return max(step.work.pause_h for _, step in self.serves)

    @property
    def first(self) -> WindowedStep:
        """The step of the first damage that it serves."""
        return self.serves[0][1]

    @property
    def title(self) -> str:
        """Its title: that of its steps where they share one, else the name of the operation."""
        titles = {step.title for _, step in self.serves}
        return titles.pop() if len(titles) == 1 else REGISTRY[self.first.operation].name

    def mixes(self, uses: Mapping[int, float]) -> list[dict[str, Any]]:
        """Its mixes with one dose for all damages it serves; `uses` as of `shares_of_mixes`."""
        steps = [step for _, step in self.serves if step.mixes]
        if len(steps) < 2 or not all(cup_of(step) for step in steps):
            return [dict(one) for step in steps for one in step.mixes]
        count = mixed_together(steps)
        alone = [one["count"] * uses.get(id(step), 1.0) for step in steps for one in step.mixes[:1]]
        mixed = dict(steps[0].mixes[0])
        for name in mixed:
            if name.endswith(("_g", "_ml")) or name == "drops":
                amounts = [step.mixes[0][name] * share for step, share in zip(steps, alone, strict=True)]
                mixed[name] = sum(amounts) / count
        if "drops" in mixed:
            mixed["drops"] = round(mixed["drops"])
        if "stirred_in" in mixed:
            mixed["stirred_in"] = [
                {**one, "amount": sum(step.mixes[0]["stirred_in"][at]["amount"] * share
                                      for step, share in zip(steps, alone, strict=True)) / count}
                for at, one in enumerate(mixed["stirred_in"])
            ]  # fmt: skip
        return [{**mixed, "count": count}]

    def instruction(self, names: Sequence[str], mixes: Sequence[Mapping[str, Any]]) -> str:
        """What to do at each place, by the damages' names; what is stirred into a cup for several is said first."""
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

    def as_dict(
        self, names: Sequence[str], parts: Sequence[Sequence[Mapping[str, Any]]], uses: Mapping[int, float]
    ) -> dict[str, Any]:
        """The step as the snapshot keeps it; `parts` are the step dictionaries of each damage's own estimate.

        `serves` says of each damage its number (from 0) and its own step: minutes, materials, mixes, what it does.
        """
        own = [(damage, parts[damage][step.index - 1]) for damage, step in self.serves]
        first = own[0][1]
        mixes = self.mixes(uses)
        return {
            **first,
            "index": self.index,
            "title": self.title,
            "instruction": self.instruction(names, mixes),
            "minutes": self.minutes,
            "earliest_start_h": self.earliest_start_h,
            "latest_start_h": self.latest_start_h,
            "if_late": self.if_late,
            "same_sitting": self.sitting,
            "pause_h": self.pause_h,
            "cuts_back": any(step["cuts_back"] for _, step in own),
            "wait": _longest([step["wait"] for _, step in own if step["wait"] is not None]),
            "mixes": mixes,
            "materials": added(material for _, step in own for material in step["materials"]),
            "pieces": [piece for _, step in own for piece in step["pieces"]],
            "measures": [] if len(own) > 1 else first["measures"],
            "cautions": list(dict.fromkeys(words for _, step in own for words in step["cautions"])),
            "weight_g": sum(step["weight_g"] for _, step in own),
            "bench_hours_ok": self.in_time,
            "does": _does([step["does"] for _, step in own]),
            "serves": [
                {"damage": damage, "step": step["index"], **{name: step[name] for name in OWN}} for damage, step in own
            ],
        }


def merged(damages: Sequence[WorkedDamage]) -> list[MergedStep]:
    """The steps of all damages in the order of the bench, those that are done together as one."""
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
    """By step (its id), what its mixes take with the others over what they would take alone."""
    found = {}
    for part in parts:
        lines = {(step, line.supply.material): line for step, line in part.rows if isinstance(line, MixedLine)}
        for step in part.steps:
            own = [line for line in step.work.lines if isinstance(line, MixedLine)]
            if own:
                now = lines[step.index, own[0].supply.material]
                found[id(step)] = now.use / own[0].use
    return found


def _longest(waits: Sequence[Mapping[str, Any]]) -> dict[str, Any] | None:
    """Waits of steps that are done together: the longest of each, the first end of a window, and all they hang on."""
    if not waits:
        return None
    until = [one["coat_until_h"] for one in waits if one["coat_until_h"] is not None]
    longest = {
        name: max(one[name] for one in waits) for name in waits[0] if name.endswith("_h") and name != "coat_until_h"
    }
    slowed = [one for wait in waits for one in wait["slowed"]]
    return {**waits[0], **longest, "coat_until_h": min(until, default=None), "slowed": slowed}


def added(materials: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """What several steps plan to use, each material once; how the plan was made adds up with it."""
    found: dict[str, dict[str, Any]] = {}
    for one in materials:
        known = found.setdefault(one["material"], {**one, "planned": 0.0, "need": 0.0, "made_of": None})
        known["planned"] += one["planned"]
        known["need"] += one["need"]
        made, more = known["made_of"], one["made_of"]
        if made is None:
            known["made_of"] = more and dict(more)
        elif more is not None:
            known["made_of"] = {**made, **{name: made[name] + more[name] for name in ("need", "cups", "least")}}
    return list(found.values())


def _does(all_of: Sequence[Mapping[str, Any]]) -> Mapping[str, Any]:
    """What steps that are done together put onto the board; where, only if it is one place."""
    first = all_of[0]
    alike = {name: first[name] if all(one[name] == first[name] for one in all_of) else "" for name in ("place", "over")}
    puts = dict.fromkeys(stuff for one in all_of for stuff in one["puts"])
    return {**first, **alike, "puts": list(puts), "room_c": max(one["room_c"] for one in all_of)}

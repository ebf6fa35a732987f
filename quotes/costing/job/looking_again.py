"""Steps that were priced, looked at again: whether they may still be done to the board and in the shop as they are now.

Works on the steps of a snapshot, so that what was worked out for another board is refused as it was worked out. A
snapshot from before what a step does was kept with it is read by its operation and its mixes.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import NamedTuple

from quotes.costing.operations import REGISTRY
from quotes.costing.parts.inputs import Construction, CoreMaterial
from quotes.costing.parts.refusals import (
    FOAM_SAFE_EPS,
    Doing,
    Refusal,
    Stuff,
    refusals_in_order,
    stuff_of,
    too_cold,
    too_hot,
)
from quotes.costing.snapshot import PlannedMix, PlannedStep
from quotes.costing.steps.operation import Operation

_UNKNOWN = CoreMaterial("", "", "g")


class Now(NamedTuple):
    """Conditions of the work now: the board with its water, the shop's temperature in °C, and its figures by name."""

    board: Construction
    temperature_c: float
    figures: Mapping[str, float]


def look_again(
    plans: Sequence[PlannedStep],
    now: Now,
    materials: Mapping[str, CoreMaterial],
    *,
    dry: bool = False,
    not_done: Collection[int] = (),
) -> list[tuple[Refusal, ...]]:
    """Refusals for each step of a snapshot, in the order they are done; empty for a step that may be done now.

    `materials` are those that the steps take, by key; `dry` says that a wet core was dried already, `not_done` which
    steps (by their place in the row) are still ahead and changed nothing yet.
    """
    doings = [_doing(plan, materials) for plan in plans]
    return [
        (*refusals, *_of_mixes(plan, doing, now, materials))
        for plan, doing, refusals in zip(
            plans, doings, refusals_in_order(doings, now.board, dry=dry, not_done=not_done), strict=True
        )
    ]


def _doing(plan: PlannedStep, materials: Mapping[str, CoreMaterial]) -> Doing:
    operation = REGISTRY.get(plan.operation)
    if operation is None:
        return Doing(plan.operation)
    if plan.does is None:
        return operation.does(puts=tuple(_puts(operation, plan, materials)))
    return operation.does(**plan.does._asdict())


def _puts(operation: Operation, plan: PlannedStep, materials: Mapping[str, CoreMaterial]) -> Iterator[Stuff]:
    """Stuff that a step of an old snapshot puts onto a board: by its operation, its mixes, and its allowance."""
    if operation.off_board:
        return
    yield from operation.always_puts
    systems = {mix.system for mix in plan.mixes}
    if "polyester" in systems:
        yield "polyester"
    if "epoxy" in systems:
        yield "epoxy"
    taken = [one.material for one in plan.materials]
    if operation.key == "tack-fin" and "ca-glue" in taken:
        yield "cyanoacrylate"
    if operation.key == "allowance":
        for key in taken:
            yield from stuff_of(key, materials.get(key))


def _of_mixes(plan: PlannedStep, doing: Doing, now: Now, materials: Mapping[str, CoreMaterial]) -> Iterator[Refusal]:
    """Refusals of what is mixed, or allowed, in too cold a shop or too much at once."""
    mixed = [(mix.system, mix.resin) for mix in plan.mixes]
    if doing.operation == "allowance":
        mixed += [(stuff, one.material) for stuff in doing.puts for one in plan.materials]
    cold = (too_cold(what, now.temperature_c, materials.get(key, _UNKNOWN).facts, now.figures) for what, key in mixed)
    yield from dict.fromkeys(refusal for refusal in cold if refusal)
    for mix in plan.mixes:
        hot = None
        if mix.system == "pour foam":
            safe = now.figures[FOAM_SAFE_EPS.name]
            hot = too_hot(_poured(plan, mix), now.board, safe, "so more pours, or glue in a block of foam.")
        if hot:
            yield hot


def _poured(plan: PlannedStep, mix: PlannedMix) -> float:
    """Grams of foam that one pour leaves in the hole: without what stays in the cup, and what is spilt."""
    need = next((one.need for one in plan.materials if one.material == mix.resin), 0.0)
    return need / mix.count if need else mix.resin_g

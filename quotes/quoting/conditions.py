"""How things are now, and whether what was priced may still be done: asked when a way is agreed and before each step.

What was true at the quote may not be at the yes or at the step. `conditions_now` is the one place that says how a board
is and how warm the shop is; the rules are the costing core's.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from quotes.costing import CoreMaterial, Now, PlannedStep, Refusal, look_again
from quotes.costing.basis.constants import laid_over
from quotes.estimating import construction, materials_of
from quotes.models import TakeIn, Way
from shop.models import Profile

WHAT_TO_DO = {
    "construction": "Price it anew for the board as it is, by another recipe if need be; or, if the board was put down "
    "wrongly, put it right.",
    "wet": "Dry it first: price a way with a drying step, or untick the water once the core is dry.",
    "order": "Change the recipe, and price it anew.",
    "temperature": "Warm the shop, and put its temperature right.",
}


def conditions_now(takein: TakeIn, profile: Profile | None = None, warmth: Decimal | None = None) -> Now:
    """The board as it is put down now, with its water, and the shop's temperature and figures. One query at most.

    `warmth` is what was read at the bench in °C; None is the shop's usual temperature, as at the quote and at the yes.
    """
    profile = profile or Profile.objects.get()
    board = construction(takein)
    return Now(board, float(profile.shop_temperature_c if warmth is None else warmth), _figures(profile))


def _figures(profile: Profile) -> dict[str, float]:
    """The shop's own figures over the trade's; the trade's where one of the shop's is no longer one that it may set."""
    try:
        return laid_over({name: tuple(map(float, own)) for name, own in profile.constants.items()})  # type: ignore[misc]
    except ValueError:
        return laid_over({})


def taken_by(plans: Iterable[PlannedStep]) -> dict[str, CoreMaterial]:
    """The materials that steps take or mix, by key. One query."""
    plans = list(plans)
    keys = {key for plan in plans for key in plan.takes}
    return materials_of(keys | {mix.resin for plan in plans for mix in plan.mixes if mix.resin})


def refused_now(plans: Sequence[PlannedStep], now: Now, *, dry: bool = False) -> list[tuple[Refusal, ...]]:
    """For each step of a repair, in order, why it must not be done now. One query."""
    return look_again(plans, now, taken_by(plans), dry=dry)


def refused_of_way(way: Way) -> dict[str, Refusal]:
    """Why a way that was priced must not be done to its board as it is now: sentence with the steps → refusal."""
    now = conditions_now(
        TakeIn.objects.select_related("board").get(pk=way.board.takein_id)
    )  # not as it was read before
    found: dict[str, Refusal] = {}
    for part in way.parts.all():
        plans = part.estimate.steps
        titles: dict[Refusal, list[str]] = {}
        for plan, refusals in zip(plans, refused_now(plans, now), strict=True):
            for refusal in refusals:
                titles.setdefault(refusal, []).append(plan.title)
        found |= {f"{', '.join(dict.fromkeys(steps))}: {refusal.text}": refusal for refusal, steps in titles.items()}
    return found


def what_to_do(refusals: Iterable[Refusal]) -> list[str]:
    """What to do about refusals, each sentence once."""
    return list(dict.fromkeys(WHAT_TO_DO[refusal.because] for refusal in refusals))

"""Which prices a quote, a recipe or all recipes rest on, and what each of them moves.

Everything is worked out as if every price were there, so that nothing is left out for want of another one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from quotes.costing import Estimate, Price, Snapshot
from quotes.estimating import Inputs
from quotes.models import Quote, RecipeVersion
from quotes.quoting.drafting import recompute, ways_of
from quotes.quoting.repairs import board_of, parts_of
from quotes.recipes import on_reference
from shop.platform.acts import SEES_MONEY, Refused, Signed, action

NOTHING_SAID = Price(0.0, "not known", guess=True)


@dataclass(frozen=True)
class Rests:
    """How one price matters: the most of the material in any one of the things priced, and in how many it is.

    `use` in the material's unit; `cost` at today's price or guess, 0 where there is none.
    """

    use: float
    cost: float
    many: int


def with_every_price(inputs: Inputs) -> Inputs:
    """Inputs with a price of nothing where there is none; for what is used, never for what is charged."""
    materials = {
        key: one if one.price else replace(one, price=NOTHING_SAID) for key, one in inputs.shop.materials.items()
    }
    return replace(inputs, shop=replace(inputs.shop, materials=materials), missing=())


def quote_rests_on(quote: Quote, inputs: Inputs) -> list[list[Estimate]]:
    """The repairs of each way of a quote, worked out as one board."""
    shop = with_every_price(inputs)
    return [list(board_of(way, parts_of(way), shop).parts) for way in ways_of(quote)]


def recipes_rest_on(versions: Iterable[RecipeVersion], inputs: Inputs) -> list[list[Estimate]]:
    """Each recipe on its reference board; one whose reference cannot be read is left out."""
    shop = with_every_price(inputs)
    found = []
    for version in versions:
        try:
            found.append([on_reference(version.body, version.recipe.reference, shop)])
        except Refused:
            continue
    return found


def rests_on(priced: Sequence[Sequence[Estimate]]) -> dict[str, Rests]:
    """By material key, how its price matters to several things priced, each the sum of its estimates."""
    found: dict[str, Rests] = {}
    for one in priced:
        here: dict[str, tuple[float, float]] = {}
        for made in one:
            for _, line in made.rows:
                key = line.supply.material
                if key:
                    use, cost = here.get(key, (0.0, 0.0))
                    here[key] = use + line.use, cost + line.cost
            for problem in made.problems:  # worked out no further than this: what it asks for is still named
                if problem.remedy.where == "material":
                    here.setdefault(problem.remedy.name, (0.0, 0.0))
        for key, (use, cost) in here.items():
            before = found.get(key, Rests(0.0, 0.0, 0))
            found[key] = Rests(max(use, before.use), max(cost, before.cost), before.many + 1)
    return found


@action("quote.work_out", *SEES_MONEY)
def work_out_drafts(*, keys: set[str], signed: Signed) -> int:
    """Work out again every draft whose price rests on one of these materials, or waits for one; says how many.

    A draft that cannot be worked out as it stands, by a price by hand that is too low, is left as it is.
    """
    done = 0
    for quote in Quote.objects.filter(state=Quote.State.DRAFT).order_by("pk"):
        if any(_mentions(part.estimate, keys) for way in ways_of(quote) for part in way.parts.all()):
            try:
                recompute(quote=quote, signed=signed)
                done += 1
            except Refused:
                continue
    return done


def _mentions(snapshot: Snapshot, keys: set[str]) -> bool:
    lines = {line.material for line in snapshot.lines}
    asked = {problem.remedy.name for problem in snapshot.problems if problem.remedy.where == "material"}
    return not keys.isdisjoint(lines | asked)

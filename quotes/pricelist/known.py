"""Jobs that a shop can say something of: usual ones of a size that is said, and all others on its price list.

Each as the costing takes it, with the recipe as the shop has it now.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from quotes.costing import CoreDamage
from quotes.estimating import Inputs, core_recipe, read_typed
from quotes.models import PriceListRow, RecipeVersion
from quotes.pricelist.rows import STARTING_ROWS

USUAL = ("leash-plug", "ding-deck-small", "ding-rail-medium", "fin-box", "glass-on-fin", "snap", "re-gloss")


def usual_jobs(inputs: Inputs) -> list[CoreDamage]:
    """Jobs that nearly every shop does, in a size of the price list, whose recipe this shop has in use. One query."""
    versions = {version.recipe.key: version for version in RecipeVersion.objects.current()}
    first = {row.recipe: row for row in reversed(STARTING_ROWS)}
    rows = [(first[key], versions[key]) for key in USUAL if key in versions]
    return [_damage(row.recipe, f"{row.repair}, {row.size}", version, row.measures, inputs) for row, version in rows]


def other_jobs(inputs: Inputs, *, but: Sequence[CoreDamage]) -> list[CoreDamage]:
    """Every row of the shop's price list that is none of these jobs. Two queries."""
    versions = {version.recipe_id: version for version in RecipeVersion.objects.current()}
    rows = PriceListRow.objects.filter(recipe__in=versions).select_related("recipe")
    found = [
        _damage(f"row-{row.pk}", str(row), versions[row.recipe_id], row.measures, inputs, row.accepted_odd)
        for row in rows
    ]
    said = [(one.recipe.key, one.measures) for one in but]
    return [one for one in found if (one.recipe.key, one.measures) not in said]


def _damage(
    key: str,
    name: str,
    version: RecipeVersion,
    typed: Mapping[str, str],
    inputs: Inputs,
    accepted_odd: Collection[str] = (),
) -> CoreDamage:
    """The job with its measures read; one that cannot be read is left out, and the costing asks for it."""
    recipe = core_recipe(version)
    given, _ = read_typed(recipe, typed, volume_system=inputs.volume_system)
    return CoreDamage(key, name, recipe, given, accepted_odd)

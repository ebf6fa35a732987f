"""A recipe worked out for a damage, or several for one board, from rows and what was typed."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from quotes import costing
from quotes.costing import Construction, CoreRecipe, Given
from quotes.estimating.inputs import Inputs, shop_inputs
from quotes.models import RecipeVersion, TakeIn
from shop.measures import units
from shop.platform.acts import Refused


def read_typed(
    recipe: CoreRecipe, typed: Mapping[str, str], *, volume_system: units.VolumeSystem = "us", kept: bool = True
) -> tuple[dict[str, Given], dict[str, str]]:
    """What was typed for a recipe's measures: the canonical values, and a sentence for each that cannot be read.

    Nothing typed is left out, so that the recipe's own default stands or the core asks for it. `kept` is what a form
    has asked about already; `1.500` in other text gives a sentence.
    """
    given: dict[str, Given] = {}
    wrong: dict[str, str] = {}
    for measure in recipe.measures:
        text = typed.get(measure.name, "")
        if not text.strip():
            continue
        try:
            quantity = units.read(
                text,
                dimension=measure.dimension,
                default_unit=measure.unit,
                volume_system=volume_system,
                allow_negative=measure.dimension == "temperature",
                name=measure.label,
                kept=kept,
            )
            given[measure.name] = Given(units.canonical(quantity, measure.dimension), text.strip())
        except units.UnitError as problem:
            wrong[measure.name] = problem.sentence
    return given, wrong


def core_recipe(version: RecipeVersion) -> CoreRecipe:
    """The recipe of a version as the core takes it."""
    return CoreRecipe.from_dict(version.body)


def construction(takein: TakeIn) -> Construction:
    """How a board that was taken in is built, as the core takes it, and whether it is wet.

    The one way from rows to the core: it asks for the take-in, so that nobody can leave its water out.
    """
    board = takein.board
    return Construction(core=board.core, resin=board.resin, skin=board.skin, wet=takein.wet)  # type: ignore[arg-type]


def estimate(
    *,
    version: RecipeVersion,
    measures: Mapping[str, str | Given | float],
    day: date,
    board: Construction,
    inputs: Inputs | None = None,
    accepted_odd: Collection[str] = (),
) -> costing.Estimate:
    """A recipe worked out for one board. What is missing is in its `problems`; then it has no price.

    Measures are as typed, or already canonical. Raises Refused with a sentence per measure that cannot be read.
    """
    inputs = inputs or shop_inputs(day=day)
    recipe = core_recipe(version)
    typed = {name: text for name, text in measures.items() if isinstance(text, str)}
    given, wrong = read_typed(recipe, typed, volume_system=inputs.volume_system)
    if wrong:
        raise Refused({name: [sentence] for name, sentence in wrong.items()})
    handed = {name: value for name, value in measures.items() if not isinstance(value, str)}
    made = costing.estimate(recipe, {**handed, **given}, inputs.shop, board=board, accepted_odd=accepted_odd)
    if inputs.missing:
        made.problems, made.priced = [*inputs.missing, *made.problems], None
    return made


@dataclass(frozen=True)
class Asked:
    """One damage of a board as it is asked about: a key of the caller's, its name on the page, recipe and measures.

    Measures are as typed, or already canonical. `optional`: the customer may leave it.
    """

    key: str
    name: str
    version: RecipeVersion
    measures: Mapping[str, str | Given | float]
    accepted_odd: Collection[str] = ()
    optional: bool = False


def estimate_board(
    *,
    asked: Sequence[Asked],
    day: date,
    board: Construction,
    inputs: Inputs | None = None,
    choices: bool = True,
) -> costing.BoardEstimate:
    """Several damages of one board worked out as one job, with the price of each and of every choice.

    What is missing is in its `problems`; then it has no price. Raises Refused with a sentence per measure that cannot
    be read, under "KEY-MEASURE", or where these damages make no board (see `costing.estimate_board`).
    """
    inputs = inputs or shop_inputs(day=day)
    wrong: dict[str, list[str]] = {}
    damages = []
    for one in asked:
        recipe = core_recipe(one.version)
        typed = {name: text for name, text in one.measures.items() if isinstance(text, str)}
        given, unread = read_typed(recipe, typed, volume_system=inputs.volume_system)
        wrong |= {f"{one.key}-{name}": [f"{one.name}: {sentence}"] for name, sentence in unread.items()}
        handed = {name: value for name, value in one.measures.items() if not isinstance(value, str)}
        damages.append(
            costing.CoreDamage(one.key, one.name, recipe, {**handed, **given}, one.accepted_odd, one.optional)
        )
    if wrong:
        raise Refused(wrong)
    try:
        made = costing.estimate_board(damages, inputs.shop, board=board, choices=choices)
    except ValueError as no_board:
        raise Refused(str(no_board)) from no_board
    return made.without_price(inputs.missing) if inputs.missing else made

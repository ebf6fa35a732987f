"""What a repair costs, on the command line: `price glass-on-fin --measure fin_base=132mm … [--json]`.

`price --board FILE.json` prices a board with several damages as one job; see `quotes.management.board_file`.
"""

from __future__ import annotations

import sys
from datetime import date
from typing import Any, Literal, NoReturn
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from quotes import quoting
from quotes.costing import (
    Construction,
    CoreRecipe,
    boards_together,
    together_in_words,
)
from quotes.estimating import Inputs, core_recipe, estimate, estimate_board, read_typed, shop_inputs
from quotes.management.board_file import WrongFile, meant, read_board
from quotes.management.price_words import board_words, plain, words_of
from quotes.models import RecipeVersion
from quotes.pricelist import price_list
from shop.measures import units
from shop.models import Board, Profile
from shop.platform.acts import Refused


class Command(BaseCommand):
    help = (
        "Works a recipe out with measures as people write them, at today's prices, and says why it costs what it does."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("recipe", nargs="?", help="short name of a recipe; --list shows them")
        parser.add_argument("--measure", action="append", default=[], metavar="NAME=VALUE", help="like fin_base=132mm")
        parser.add_argument("--board", metavar="FILE", help="a board with several damages, as a JSON file")
        parser.add_argument("--alone", action="store_true", help="worked alone, as in a rush: no other board shares")
        parser.add_argument("--odd", action="store_true", help="take measures beyond the usual as they are")
        parser.add_argument("--core", choices=Board.Core.values, default="pu", help="the board's core (pu)")
        parser.add_argument("--resin", choices=Board.Resin.values, help="its skin resin (as the core usually has)")
        parser.add_argument("--skin", choices=Board.Skin.values, default="glass", help="the board's skin (glass)")
        parser.add_argument("--wet", action="store_true", help="there is water in the core")
        parser.add_argument("--json", action="store_true", help="one JSON object with every line")
        parser.add_argument("--list", action="store_true", help="the recipes, what they measure, and the wall's prices")
        parser.add_argument("--demo", action="store_true", help="the demo's own database")

    def handle(self, **options: Any) -> None:
        profile = Profile.objects.first()
        if profile is None:
            self.fail(
                "There is no shop in this database yet: set one up in the service, or run `make demo` and add --demo."
            )
        day = timezone.localdate(timezone=ZoneInfo(profile.timezone))
        if options["list"]:
            return self.list_recipes(day)
        inputs = shop_inputs(day=day)
        if options["alone"]:
            inputs = inputs.alone()
        if options["board"]:
            return self.price_board(options, inputs)
        if not options["recipe"]:
            self.fail("Say which recipe, like `price glass-on-fin`; `price --list` shows them all.")
        version = self.find(options["recipe"])
        recipe = core_recipe(version)
        measures = self.measures(recipe, options["measure"])
        _, wrong = read_typed(recipe, measures, kept=False)
        if wrong:
            self.fail(*wrong.values())
        usual: Literal["polyester", "epoxy"] = "polyester" if options["core"] == "pu" else "epoxy"
        resin = options["resin"] or usual
        try:
            made = estimate(
                version=version,
                measures=measures,
                day=day,
                board=Construction(options["core"], resin, options["skin"], wet=options["wet"]),
                inputs=inputs,
                accepted_odd=[measure.name for measure in recipe.measures] if options["odd"] else (),
            )
        except Refused as refusal:
            self.fail(*refusal.messages)
        if made.problems:
            more = ["If the odd ones are right, add --odd."] if any(p.odd for p in made.problems) else []
            self.fail(*quoting.missing_once(made.problems, day).sentences, *more)
        together = boards_together(inputs.shop)
        if options["json"]:
            built = {"core": options["core"], "resin": resin}
            said = plain({**made.snapshot().to_json(), "board": built, "boards": together})
        else:
            said = words_of(made, together)
        self.stdout.write(said)
        return None

    def fail(self, *sentences: str) -> NoReturn:
        """Says what is wrong on stderr and ends with exit code 2."""
        for sentence in sentences:
            self.stderr.write(sentence)
        sys.exit(2)

    def price_board(self, options: dict[str, Any], inputs: Inputs) -> None:
        """A board with several damages: each alone and with the others, every choice, and the lines of each."""
        if options["recipe"] or options["measure"]:
            self.fail("With --board the recipes and measures stand in its file: leave the others out.")
        known = {version.recipe.key: version for version in RecipeVersion.objects.current()}
        try:
            found = read_board(options["board"], known, accept_odd=options["odd"])
            made = estimate_board(asked=found.asked, day=inputs.day, board=found.board, inputs=inputs)
        except WrongFile as wrong:
            self.fail(str(wrong))
        except Refused as wrong:
            self.fail(*wrong.messages)
        if made.problems:
            names = {one.key: one.name for one in found.asked}
            more = ["If the odd ones are right, add --odd."] if any(one.odd for _, one in made.problems) else []
            self.fail(*dict.fromkeys(f"{names[key]}: {one.text}" for key, one in made.problems), *more)
        together = boards_together(inputs.shop)
        if options["json"]:
            built = {"core": found.board.core, "resin": found.board.resin}
            said = plain({**made.as_dict(), "board": built, "boards": together})
        else:
            said = board_words(made, together)
        self.stdout.write(said)

    def list_recipes(self, day: date) -> None:
        """Print every recipe with its measures."""
        self.stdout.write(f"{together_in_words(boards_together(shop_inputs(day=day).shop))} A rush is worked alone.")
        for version in RecipeVersion.objects.current():
            recipe = core_recipe(version)
            self.stdout.write(f"{recipe.key}  {recipe.name}")
            for measure in recipe.measures:
                need = "" if measure.default is None and not measure.when else " (may be left out)"
                hint = f", {measure.hint}" if measure.hint else ""
                self.stdout.write(f"    {measure.name}  {measure.label} in {units.symbol(measure.unit)}{hint}{need}")
        listed = price_list(day=day)
        if listed.groups:
            self.stdout.write(f"\nOn the wall, in {listed.currency}:")
        for repair, lines in listed.groups:
            for line in lines:
                said = ", ".join(
                    f"{cell.column.words} {'ask us' if cell.price is None else cell.price}" for cell in line.cells
                )
                self.stdout.write(f"    {repair}, {line.row.size}: {'from ' if line.row.only_from else ''}{said}")

    def find(self, key: str) -> RecipeVersion:
        """Current version of a recipe by its short name; fails with a sentence where there is none."""
        known = {version.recipe.key: version for version in RecipeVersion.objects.current()}
        if key not in known:
            self.fail(f"There is no recipe called {key}.{meant(key, known)} `price --list` shows them all.")
        return known[key]

    def measures(self, recipe: CoreRecipe, pairs: list[str]) -> dict[str, str]:
        """The measures as typed. Fails with a sentence for one that is not NAME=VALUE, unknown or there twice."""
        names = [measure.name for measure in recipe.measures]
        found: dict[str, str] = {}
        for pair in pairs:
            name, sign, value = pair.partition("=")
            if not sign or not value.strip():
                self.fail(f"A measure is NAME=VALUE, like {names[0]}=120mm; “{pair[:60]}” is not.")
            if name not in names:
                self.fail(
                    f"{recipe.name} has no measure called {name[:60]}.{meant(name, names)} It has {', '.join(names)}."
                )
            if name in found:
                self.fail(f"{name} is given twice, as {found[name][:30]} and as {value[:30]}: give it once.")
            found[name] = value
        return found

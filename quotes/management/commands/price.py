"""What a repair costs, on the command line: `price glass-on-fin --measure fin_base=132mm … [--json]`."""

from __future__ import annotations

import json
import sys
from difflib import get_close_matches
from typing import Any, NoReturn
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from quotes import quoting
from quotes.costing import Construction, Recipe, guessed
from quotes.costing.cautions import SHEET_RULES
from quotes.estimating import core_recipe, estimate, read_typed, shop_inputs
from quotes.models import RecipeVersion
from shop import money, units
from shop.acts import Refused
from shop.models import Board, Profile


class Command(BaseCommand):
    help = (
        "Works a recipe out with measures as people write them, at today's prices, and says why it costs what it does."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("recipe", nargs="?", help="short name of a recipe; --list shows them")
        parser.add_argument("--measure", action="append", default=[], metavar="NAME=VALUE", help="like fin_base=132mm")
        parser.add_argument("--odd", action="store_true", help="take measures beyond the usual as they are")
        parser.add_argument("--core", choices=Board.Core.values, default="pu", help="the board's core (pu)")
        parser.add_argument("--resin", choices=Board.Resin.values, help="its skin resin (as the core usually has)")
        parser.add_argument("--skin", choices=Board.Skin.values, default="glass", help="the board's skin (glass)")
        parser.add_argument("--wet", action="store_true", help="there is water in the core")
        parser.add_argument("--json", action="store_true", help="one JSON object with every line")
        parser.add_argument("--list", action="store_true", help="the recipes and what they measure")
        parser.add_argument("--demo", action="store_true", help="the demo's own database")

    def handle(self, **options: Any) -> None:
        profile = Profile.objects.first()
        if profile is None:
            self.fail(
                "There is no shop in this database yet: set one up in the service, or run `make demo` and add --demo."
            )
        if options["list"]:
            return self.list_recipes()
        if not options["recipe"]:
            self.fail("Say which recipe, like `price glass-on-fin`; `price --list` shows them all.")
        version = self.find(options["recipe"])
        recipe = core_recipe(version)
        measures = self.measures(recipe, options["measure"])
        _, wrong = read_typed(recipe, measures, kept=False)
        if wrong:
            self.fail(*wrong.values())
        resin = options["resin"] or ("polyester" if options["core"] == "pu" else "epoxy")
        day = timezone.localdate(timezone=ZoneInfo(profile.timezone))
        try:
            made = estimate(
                version=version,
                measures=measures,
                day=day,
                board=Construction(options["core"], resin, options["skin"], wet=options["wet"]),
                inputs=shop_inputs(day=day),
                accepted_odd=[measure.name for measure in recipe.measures] if options["odd"] else (),
            )
        except Refused as wrong:
            self.fail(*wrong.messages)
        if made.problems:
            more = ["If the odd ones are right, add --odd."] if any(p.odd for p in made.problems) else []
            self.fail(*quoting.missing_once(made.problems, day).sentences, *more)
        snapshot = {**made.as_dict(), "board": {"core": options["core"], "resin": resin}}
        self.stdout.write(json.dumps(snapshot, indent=2, ensure_ascii=False) if options["json"] else _words(snapshot))
        return None

    def fail(self, *sentences: str) -> NoReturn:
        """Says what is wrong on stderr and ends with exit code 2."""
        for sentence in sentences:
            self.stderr.write(sentence)
        sys.exit(2)

    def list_recipes(self) -> None:
        for version in RecipeVersion.objects.current():
            recipe = core_recipe(version)
            self.stdout.write(f"{recipe.key}  {recipe.name}")
            for measure in recipe.measures:
                need = "" if measure.default is None and not measure.when else " (may be left out)"
                hint = f", {measure.hint}" if measure.hint else ""
                self.stdout.write(f"    {measure.name}  {measure.label} in {units.symbol(measure.unit)}{hint}{need}")

    def find(self, key: str) -> RecipeVersion:
        known = {version.recipe.key: version for version in RecipeVersion.objects.current()}
        if key not in known:
            self.fail(f"There is no recipe called {key}.{_meant(key, known)} `price --list` shows them all.")
        return known[key]

    def measures(self, recipe: Recipe, pairs: list[str]) -> dict[str, str]:
        """The measures as typed. Fails with a sentence for one that is not NAME=VALUE, unknown or there twice."""
        names = [measure.name for measure in recipe.measures]
        found: dict[str, str] = {}
        for pair in pairs:
            name, sign, value = pair.partition("=")
            if not sign or not value.strip():
                self.fail(f"A measure is NAME=VALUE, like {names[0]}=120mm; “{pair[:60]}” is not.")
            if name not in names:
                self.fail(
                    f"{recipe.name} has no measure called {name[:60]}.{_meant(name, names)} It has {', '.join(names)}."
                )
            if name in found:
                self.fail(f"{name} is given twice, as {found[name][:30]} and as {value[:30]}: give it once.")
            found[name] = value
        return found


def _meant(word: str, known: Any) -> str:
    close = get_close_matches(word, list(known), n=1, cutoff=0.5)
    return f" Did you mean {close[0]}?" if close else ""


def _guesses(snapshot: dict[str, Any]) -> list[str]:
    """What the cost rests on that nobody has said."""
    found = guessed([snapshot])
    cost = money.round_money(money.from_float(found.cost), snapshot["currency"])
    return [f"{'':11}{found.words}, {cost} of it"] if found.words else []


def _words(snapshot: dict[str, Any]) -> str:
    """The estimate for a person: a line each, then what it comes to."""
    currency = snapshot["currency"]
    rows = [f"{snapshot['recipe_name']}, version {snapshot['recipe_version']}"]
    rows += [
        f"  {measure['label']}: {measure['typed'] or units.show(measure['value'], measure['unit'])}"
        for measure in snapshot["measures"].values()
    ]
    rows += [""]
    for line in snapshot["lines"]:
        use = units.show(line["use"]["value"], line["use"]["unit"])
        rows.append(f"{line['cost_shown']:>9}  {line['name']}, {use}")
        rows.append(f"{'':11}{line['formula']}; × {line['factor']['value']:.3g} ({line['factor']['source']})")
    titles = {step["index"]: step["title"] for step in snapshot["steps"]}
    for one in snapshot["again"]:
        rows.append(f"{one['cost_shown']:>9}  {titles[one['step']]}, done again now and then")
        rows.append(
            f"{'':11}{one['redone']} of {one['done']} here were; {one['rate'] * 100:.1f} % of what the step takes itself"
        )
    hours = snapshot["minutes"] / 60
    rows += [
        f"{snapshot['cost']:>9}  cost in {currency}",
        *_guesses(snapshot),
        "",
        f"Price before tax {snapshot['price_before_tax']} {currency}",
        f"Tax {snapshot['tax']} {currency} at {snapshot['tax_rate']:g} %",
        f"Price {snapshot['price']} {currency}",
        f"Hands on {hours:.1f} h, ready after {snapshot['earliest_ready_days']:.1f} days at the earliest, "
        f"board gains {snapshot['added_weight_g']:.0f} g",
    ]
    if snapshot["cautions"]:
        rows += ["", "Take care:", *(f"  {caution}" for caution in snapshot["cautions"]), f"  {SHEET_RULES}"]
    return "\n".join(rows)

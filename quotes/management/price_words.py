"""What the command `price` prints: an estimate, a board, its sums and guesses in words."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from quotes.costing import (
    BoardEstimate,
    Estimate,
    Priced,
    Pricing,
    guessed_in,
    together_in_words,
)
from quotes.costing.basis.cautions import SHEET_RULES
from quotes.costing.snapshot import SnapshotLine
from shop.measures import money, units


def plain(found: Mapping[str, Any]) -> str:
    return json.dumps(found, indent=2, ensure_ascii=False)


def board_words(made: BoardEstimate, together: Mapping[str, float]) -> str:
    """A board for a person: what each damage comes to, the choices, the steps, then what it comes to."""
    assert made.way is not None
    names = {damage.key: damage.name for damage in made.damages}
    rows = []
    for damage in made.damages:
        shown, alone = str(made.way.shown[damage.key]), made.alone[damage.key].priced.shown
        optional = ", optional" if damage.optional else ""
        rows.append(f"{shown:>9}  {damage.name}, {damage.recipe.name}{optional}; {alone} if it were alone")
    if len(made.choices) > 1:
        rows += ["", "Choices:"]
        rows += [
            f"{one.priced.shown!s:>9}  {', '.join(names[key] for key in one.damages)}, {one.minutes / 60:.1f} h"
            for one in made.choices
        ]
    rows += ["", "Steps:"]
    for step in made.planned_steps(list(names.values())):
        of = ", ".join(made.damages[one.damage or 0].name for one in step.serves)
        rows.append(f"{step.minutes:>5.0f} min  {step.title}: {of}")
    for damage, part in zip(made.damages, made.parts, strict=True):
        rows += ["", damage.name]
        rows += [_line_words(line) for line in part.snapshot().lines]
    rows += ["", *_sums(made, made.way.priced, together)]
    return "\n".join(rows)


def _line_words(line: SnapshotLine) -> str:
    return f"{line.cost_shown!s:>9}  {line.name}, {units.show(line.use, line.unit)}"


def _before_tax(priced: Priced, pricing: Pricing) -> list[str]:
    """Price before tax and the tax; nothing where none is charged."""
    if not pricing.tax_percent:
        return []
    return [
        f"Price before tax {priced.net} {pricing.currency}",
        f"Tax {priced.tax} {pricing.currency} at {pricing.tax_percent:g} %",
    ]


def _sums(made: Estimate | BoardEstimate, priced: Priced, together: Mapping[str, float]) -> list[str]:
    """Cost, price, hours and cautions."""
    currency, hours = made.pricing.currency, made.minutes / 60
    rows = [
        f"{priced.cost!s:>9}  cost in {currency}, as it is expected on average",
        *_guesses(made),
        "",
        *_before_tax(priced, made.pricing),
        f"Price {priced.gross} {currency}",
        f"Hands on {hours:.1f} h, ready after {made.ready_days:.1f} days at the earliest, "
        f"board gains {made.added_weight_g:.0f} g",
        together_in_words(together),
    ]
    if made.cautions:
        rows += ["", "Take care:", *(f"  {caution}" for caution in made.cautions), f"  {SHEET_RULES}"]
    return rows


def _guesses(made: Estimate | BoardEstimate) -> list[str]:
    """What the cost rests on that nobody has said, for a repair or a board of several."""
    found = guessed_in(made.lines)
    cost = money.round_money(money.from_float(found.cost), made.pricing.currency)
    return [f"{'':11}{found.words}, {cost} of it"] if found.words else []


def words_of(made: Estimate, together: Mapping[str, float]) -> str:
    """The estimate for a person: a line each, then what it comes to."""
    assert made.priced is not None
    kept = made.snapshot()
    rows = [f"{kept.recipe_name}, version {kept.recipe_version}"]
    rows += [f"  {one.label}: {one.typed or units.show(one.value, one.unit)}" for one in kept.measures.values()]
    rows += [""]
    for line in kept.lines:
        rows.append(_line_words(line))
        rows.append(f"{'':11}{line.formula}; × {line.factor.value:.3g} ({line.factor.source})")
    titles = {step.index: step.title for step in kept.steps}
    for one in kept.again:
        rows.append(f"{one.cost_shown!s:>9}  {titles[one.step]}, done again now and then")
        rows.append(
            f"{'':11}{one.redone} of {one.done} here were; {one.rate * 100:.1f} % of what the step takes itself"
        )
    return "\n".join([*rows, *_sums(made, made.priced, together)])

"""Recipes, a customer and boards for the tests of quotes, and what is on the shelf of the sample shop."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from inventory.models import Lot, Pack
from inventory.stock import ledger
from quotes.models import Damage, RecipeVersion
from quotes.quoting import TAKE_IN_CHECK
from quotes.recipes import load_starting_recipes
from shop.models import Board, Customer, User
from shop.platform.acts import Signed
from tests.conftest import NOW
from tests.sample_shop import TWIN_KEELS

KEELS = {name: str(number) for name, number in TWIN_KEELS.items()}
DING = {"length": "90 mm", "width": "40 mm", "depth": "12 mm"}


def receive_stock(*, by: User, at: datetime = NOW, packs: int = 2) -> None:
    """Two packs of everything on the shelf."""
    for pack in Pack.objects.select_related("material", "supplier"):
        ledger.receive(
            lot=Lot(material=pack.material, received_on=at.date(), pack=pack, supplier=pack.supplier),
            quantity=pack.content * packs,
            value=pack.prices.get().price * packs,
            signed=Signed(by, at),
        )


def recipes() -> dict[str, RecipeVersion]:
    """The starting recipes as rows, each with its first version."""
    load_starting_recipes(at=NOW)
    return {version.recipe.key: version for version in RecipeVersion.objects.select_related("recipe")}


def customer(name: str = "Niamh Brennock", **more: object) -> Customer:
    return Customer(name=name, phone="020 910 0144", **more)


def fish(owner: Customer | None = None, **more: object) -> Board:
    """A 5′6″ fish, not saved: 1676 × 533 mm, PU and polyester."""
    own = {"name": "5′6″ fish", "core": "pu", "resin": "polyester", "tail_shape": "fish", "fins": "twin keel boxes"}
    sizes = {"length_mm": "1676.4", "width_mm": "533.4", "thickness_mm": "66.7", "nose_mm": "381", "tail_mm": "406.4"}
    board = Board(**{**own, **{k: Decimal(v) for k, v in sizes.items()}, **more})
    if owner is not None:
        board.owner = owner
    return board


def crushed_box(**more: object) -> Damage:
    """The left fin box of the fish, crushed; not saved."""
    own = {
        "kind": Damage.Kind.BOX,
        "side": Damage.Side.BOTTOM,
        "from_tail_mm": Decimal(230),
        "from_stringer_mm": Decimal(-150),
        "words": "left box crushed",
        "measures": {"length": "118 mm", "width": "34 mm", "depth": "23 mm"},
    }
    return Damage(**{**own, **more})


def rail_ding(**more: object) -> Damage:
    own = {
        "kind": Damage.Kind.DING,
        "side": Damage.Side.RIGHT_RAIL,
        "from_tail_mm": Decimal(1100),
        "from_stringer_mm": Decimal(250),
        "measures": dict(DING),
    }
    return Damage(**{**own, **more})


def checked() -> list[dict[str, object]]:
    """The take-in check with every line ticked."""
    return [{"line": line, "ok": True, "reason": ""} for line in TAKE_IN_CHECK]

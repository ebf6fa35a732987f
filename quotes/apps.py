from typing import Any

from django.apps import AppConfig


def bring_recipes(sender: Any, at: Any, **_: Any) -> None:
    """A new shop starts with the recipes that come with the house, and a wall price list of them."""
    from quotes.pricelist import load_starting_rows
    from quotes.recipes import load_starting_recipes

    load_starting_recipes(at=at)
    load_starting_rows()


class QuotesConfig(AppConfig):
    name = "quotes"

    def ready(self) -> None:
        from shop.setup import shop_set_up

        shop_set_up.connect(bring_recipes, dispatch_uid="bring_recipes")

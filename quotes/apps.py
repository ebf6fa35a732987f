from typing import Any

from django.apps import AppConfig


def bring_recipes(sender: Any, at: Any, **_: Any) -> None:
    """A new shop starts with the recipes that come with the house, and a wall price list of them."""
    from quotes.pricelist import load_starting_rows
    from quotes.recipes import load_starting_recipes

    load_starting_recipes(at=at)
    load_starting_rows()


def learn_from_count(sender: Any, at: Any, **_: Any) -> None:
    """What was really on the shelf says what all jobs since the last count took together."""
    from quotes import experience

    experience.learn_or_mark(at=at)


class QuotesConfig(AppConfig):
    name = "quotes"

    def ready(self) -> None:
        from inventory.counting import count_booked
        from shop.setup import shop_set_up

        shop_set_up.connect(bring_recipes, dispatch_uid="bring_recipes")
        count_booked.connect(learn_from_count, dispatch_uid="learn_from_count")

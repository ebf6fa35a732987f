import logging
from typing import Any

from django.apps import AppConfig


def bring_recipes(sender: Any, at: Any, **_: Any) -> None:
    """A new shop starts with the recipes that come with the house, and a wall price list of them."""
    from quotes.pricelist import load_starting_rows
    from quotes.recipes import load_starting_recipes

    load_starting_recipes(at=at)
    load_starting_rows()


def currency_stays(sender: Any, **_: Any) -> str:
    """Once anything was given out or taken in a currency, it is the shop's for good."""
    from quotes.models import Document, Payment, Quote

    agreed = Quote.objects.filter(state=Quote.State.AGREED)
    if Document.objects.exists() or Payment.objects.exists() or agreed.exists():
        return "The currency stays: something was given out or agreed in it."
    return ""


def work_drafts_out(sender: Any, signed: Any, **_: Any) -> None:
    """Quotes still being written are worked out again in the shop's new currency."""
    from quotes.models import Quote
    from quotes.quoting.repricing import work_out_drafts

    work_out_drafts(quotes=list(Quote.objects.filter(state=Quote.State.DRAFT)), signed=signed)


def learn_from_count(sender: Any, at: Any, **_: Any) -> None:
    """What was really on the shelf says what all jobs since the last count took together."""
    from quotes import experience

    experience.learn_or_mark(at=at)


def ask_at_login(sender: Any, **_: Any) -> None:
    """Whoever comes in first puts the question of the day; nobody is kept out because that failed."""
    from django.utils import timezone

    from quotes import experience

    try:
        experience.ask(on=timezone.localdate())
    except Exception:
        logging.getLogger(__name__).exception("no question of the day")


def look_ahead_at_login(sender: Any, **_: Any) -> None:
    """Whoever comes in first on a day has the bench ahead worked out for it."""
    from django.utils import timezone

    from quotes.ready_days.outlook import look_at_login

    look_at_login(at=timezone.now())


def look_at_other_hours(sender: Any, at: Any, **_: Any) -> None:
    """Promises are looked at again when hours, absences or closed days change."""
    from quotes.ready_days.outlook import look_again_soon

    look_again_soon(at=at)


def renew_what_was_learned(sender: Any, at: Any, **_: Any) -> str:
    """What another version of the software learned is worked out anew."""
    from quotes import experience

    return experience.renew(at=at)


def renew_recipes(sender: Any, at: Any, **_: Any) -> str:
    """Recipes that the shop left as they came follow those of this version."""
    from quotes.recipes import renew_starting_recipes

    return renew_starting_recipes(at=at)


def stands_on(sender: Any, acts: Any, **_: Any) -> Any:
    """The steps and the sales that stand on acts of the ledger."""
    from quotes import bench, billing

    return {**bench.steps_standing(acts), **billing.sales_standing(acts)}


class QuotesConfig(AppConfig):
    name = "quotes"

    def ready(self) -> None:
        from django.contrib.auth.signals import user_logged_in

        from inventory.counting.counts import count_booked
        from inventory.stock.standing import who_stands
        from shop.business.hands import hours_changed
        from shop.business.setup import shop_set_up
        from shop.business.shop_settings import currency_asked, currency_changed
        from shop.platform.updating import brought_up

        brought_up.connect(renew_recipes, dispatch_uid="renew_recipes")
        brought_up.connect(renew_what_was_learned, dispatch_uid="renew_what_was_learned")
        shop_set_up.connect(bring_recipes, dispatch_uid="bring_recipes")
        currency_asked.connect(currency_stays, dispatch_uid="currency_stays")
        currency_changed.connect(work_drafts_out, dispatch_uid="work_drafts_out")
        count_booked.connect(learn_from_count, dispatch_uid="learn_from_count")
        who_stands.connect(stands_on, dispatch_uid="stands_on")
        hours_changed.connect(look_at_other_hours, dispatch_uid="look_at_other_hours")
        user_logged_in.connect(ask_at_login, dispatch_uid="ask_at_login")
        user_logged_in.connect(look_ahead_at_login, dispatch_uid="look_ahead_at_login")

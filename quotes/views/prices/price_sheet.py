"""One sheet of prices: all that a quote, a recipe or every recipe rests on, typed on one page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.db.models import Prefetch
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.catalogue.guesses import GUESSES_IN_EURO, guess_of
from inventory.catalogue.materials import say_prices
from inventory.catalogue.starting import put_in_guesses
from inventory.forms.price_sheet import PriceSheetForm, SheetRow
from inventory.models import Material, Pack, Supplier
from inventory.stock.prices import prices_on
from quotes.costing import Estimate
from quotes.estimating import shop_inputs
from quotes.models import Quote, Recipe, RecipeVersion
from quotes.quoting.price_sheet import Rests, quote_rests_on, recipes_rest_on, rests_on, work_out_drafts
from shop.platform.acts import SEES_MONEY
from shop.web.access import open_to
from shop.web.page import Shown, form_page, sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import asked_for, came_from, said_or_done

NOTHING_RESTS = Rests(0.0, 0.0, 0)
SHOWN = 22  # in three screens of a phone; of more than that those that move least are folded away


@open_to(*SEES_MONEY)
def price_sheet(request: ShopRequest) -> HttpResponse:
    """What all recipes rest on."""
    inputs = shop_inputs(day=timezone.localdate())
    priced = recipes_rest_on(RecipeVersion.objects.current(), inputs)
    up = came_from(request, "")
    words = "Back to where you were" if up else "Store"
    return _sheet(request, priced, up=up or reverse("store"), up_words=words, heading="all recipes", noun="recipe")


@open_to(*SEES_MONEY)
def recipe_price_sheet(request: ShopRequest, key: str) -> HttpResponse:
    """What one recipe rests on, on its reference board."""
    row = get_object_or_404(Recipe, key=key)
    version = row.current
    priced = recipes_rest_on([version], shop_inputs(day=timezone.localdate()))
    if asked_for(request, "for") == "quick":
        up = f"{reverse('quick')}?recipe={key}"
    else:
        up = reverse("recipe", args=[key]) if request.user.is_keeper else reverse("price-list")
    return _sheet(request, priced, up=up, up_words=row.name, heading=row.name, noun="recipe")


@open_to(*SEES_MONEY)
def quote_price_sheet(request: ShopRequest, pk: int) -> HttpResponse:
    """What a quote rests on; once prices are kept, a draft is worked out with them."""
    row = get_object_or_404(Quote.objects.select_related("payer").defer("document__pdf"), pk=pk)
    inputs = shop_inputs(day=timezone.localdate()).of_quote(row.payer.discount_percent, row.rush_percent)
    priced = quote_rests_on(row, inputs)
    up = reverse("quote", args=[pk])
    return _sheet(request, priced, up=up, up_words=str(row), heading=f"{row.payer.name}: {row}", noun="way")


def _sheet(
    request: ShopRequest, priced: Sequence[Sequence[Estimate]], *, up: str, up_words: str, heading: str, noun: str
) -> HttpResponse:
    today = timezone.localdate()
    rests = rests_on(priced)
    rows, known = _rows(rests)
    form = PriceSheetForm(sent(request), rows=rows, shop=request.shop)

    def act() -> str:
        now, said = timezone.now(), form.said()
        many = say_prices(
            said=said, supplier=form.cleaned_data["supplier"], from_day=today, signed=signed(request, now)
        )
        work_out_drafts(keys={one.material.key for one in said}, signed=signed(request, now))
        left = len(rows) - many
        kept = f"{many} price{'s' if many != 1 else ''} kept"
        messages.success(request, f"{kept}; {left} still to say." if left else f"{kept}; all of them are said now.")
        return up

    asked = [_shown(row, form, rests.get(row.material.key, NOTHING_RESTS), len(priced), noun) for row in rows]
    able = guess_of(next(iter(GUESSES_IN_EURO)), request.shop.currency) is not None
    context: Shown = {
        "up": up,
        "up_words": up_words,
        "heading": heading,
        "rows": asked,
        "first": asked[:SHOWN],
        "folded": asked[SHOWN:],
        "folded_open": any(box.errors for one in asked[SHOWN:] for box in one["boxes"]),
        "known": known,
        "all": len(rows) + len(known),
        "guessed": sum(1 for row in rows if row.material.guess_price is not None),
        "can_guess": able and any(_could_be_guessed(row.material) for row in rows),
        "suppliers": list(Supplier.objects.values_list("name", flat=True)),
    }
    return form_page(request, "quotes/price_sheet.html", form, act, **context)


def _could_be_guessed(material: Material) -> bool:
    return material.guess_price is None and material.key in GUESSES_IN_EURO


def _rows(rests: dict[str, Rests]) -> tuple[list[SheetRow], list[dict[str, Any]]]:
    """The materials whose price nobody has said, what moves most first; and those whose price is known."""
    day = timezone.localdate()
    packs = Prefetch("packs", Pack.objects.in_use().order_by("-preferred", "pk"), to_attr="in_use")
    rows_of = Material.objects.in_use().filter(key__in=rests).order_by("name")
    materials = list(rows_of.prefetch_related(packs))  # type: ignore[no-redef] # declared on the model
    prices = prices_on(day, set(rests))
    said = {key for key, price in prices.items() if not price.guess}
    rows = [SheetRow(one, next(iter(one.in_use), None)) for one in materials if one.key not in said]
    rows.sort(key=lambda row: -rests[row.material.key].cost)
    known = [{"material": one, "words": prices[one.key].words} for one in materials if one.key in said]
    return rows, known


def _shown(row: SheetRow, form: PriceSheetForm, rests: Rests, things: int, noun: str) -> dict[str, Any]:
    where = f"in {rests.many} of {things} {noun}s" if things > 1 else ""
    pack, price = form.boxes(row)
    return {"row": row, "boxes": (pack, price), "pack": pack, "price": price, "rests": rests, "where": where}


@open_to(*SEES_MONEY)
@require_POST
def guesses_fill(request: ShopRequest) -> HttpResponse:
    """Guesses for the starting materials of a shop that began without them."""

    def act() -> str:
        rows = put_in_guesses(signed=signed(request))
        work_out_drafts(keys={row.key for row in rows}, signed=signed(request))
        messages.success(request, f"{len(rows)} guesses put in. They stand in only where nobody has said a price.")
        return reverse("price-sheet")

    return said_or_done(request, act, reverse("price-sheet"))

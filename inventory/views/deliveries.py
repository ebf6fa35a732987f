"""All that came on one note, and a supplier's price list looked at before it counts."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import Any

from django.contrib import messages
from django.db.models import Prefetch, Q
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from inventory.buying.orders import still_to_come
from inventory.forms.deliveries import DeliveryForm
from inventory.forms.price_lists import PriceListForm
from inventory.forms.tying import TieForm
from inventory.models import Pack, PackPrice, PriceList, Supplier
from inventory.receiving.deliveries import take_in
from inventory.receiving.pricelist import PricedArticle
from inventory.receiving.supplier_prices import compare, keep_list, take_over
from inventory.receiving.tying import AT_ONCE, Strangers, lines_of, tie
from shop.forms.fields import ShedForm
from shop.platform.acts import SEES_MONEY
from shop.web.access import open_to
from shop.web.page import Shown, act_page, form_page, sent, sent_files
from shop.web.request import ShopRequest, signed
from shop.web.submission import asked_for

LISTS = PriceList.objects.select_related("supplier")
FOUND = 8  # packs of a search, shown at once
SMALL = re.compile(r"[0-9]{1,4}")
OF_A_PACK = re.compile(r"(?:came|count|price|use_by)_([0-9]{1,9})")


def _packs_of(supplier: Supplier, ordered: Collection[int]) -> dict[int, Pack]:
    """What a supplier sells to the shop, and what is on order of what it no longer buys, by key, with its price."""
    prices = Prefetch("prices", PackPrice.objects.in_force(timezone.localdate()), to_attr="priced")
    bought = Q(retired_at__isnull=True, material__retired_at__isnull=True) | Q(pk__in=ordered)
    packs = supplier.packs.filter(bought).select_related("material", "supplier")
    packs = packs.prefetch_related(prices)  # type: ignore[no-redef] # declared on the model
    rows = {pack.pk: pack for pack in packs.order_by("material__shelf", "material__name", "words")}
    for pack in rows.values():
        pack.price = pack.priced[0] if pack.priced else None
    return rows


def _sounds_like(pack: Pack, words: str) -> bool:
    """Whether a pack, its material or its article number holds every word."""
    said = f"{pack.material.name} {pack.words} {pack.supplier_code} {pack.material.kind}".casefold()
    return all(word in said for word in words.casefold().split())


def _typed(entries: QueryDict) -> dict[str, Any]:
    """What a form that is only looked at again held: a box without its tick is sent as nothing at all."""
    return {**entries.dict(), "keep_prices": "keep_prices" in entries} if entries else {}


def _ticked(entries: QueryDict) -> dict[int, int]:
    """How many of each pack, by key, a sent page said were on order where they are ticked."""
    ticks = {name.removeprefix("came_"): str(value) for name, value in entries.items() if name.startswith("came_")}
    return {int(pk): int(n) for pk, n in ticks.items() if OF_A_PACK.fullmatch(f"came_{pk}") and SMALL.fullmatch(n)}


def _named(entries: QueryDict) -> list[int]:
    """The packs, by key, that something was typed of."""
    return [int(of[1]) for name, value in entries.items() if value and (of := OF_A_PACK.fullmatch(name))]


@open_to(*SEES_MONEY)
def delivery_new(request: ShopRequest, pk: int) -> HttpResponse:
    """What is on order, to tick; and a search for what is not, which keeps all that was typed."""
    supplier, today, words = get_object_or_404(Supplier, pk=pk), timezone.localdate(), asked_for(request)
    ordered = still_to_come(supplier, today) | _ticked(request.POST)
    packs = _packs_of(supplier, ordered)
    found = [one for one in packs.values() if words and one.pk not in ordered and _sounds_like(one, words)]
    shown = dict.fromkeys([*ordered, *(one.pk for one in found[:FOUND]), *_named(request.POST)])
    form = DeliveryForm(
        None if "find" in request.POST else sent(request), shop=request.shop, supplier=supplier, today=today,
        packs=[packs[key] for key in shown if key in packs], ordered=ordered, typed=_typed(request.POST),
    )  # fmt: skip

    def act() -> str:
        lots = take_in(
            delivery=form.delivery(),
            lines=form.lines(),
            keep_prices=form.cleaned_data["keep_prices"],
            signed=signed(request),
        )
        messages.success(request, f"On the shelf: {len(lots)} line{'s' if len(lots) > 1 else ''} from {supplier}.")
        return reverse("store")

    context: Shown = {
        "supplier": supplier,
        "known": bool(packs),
        "q": words,
        "found": found,
        "more": len(found[FOUND:]),
    }
    return form_page(request, "inventory/delivery.html", form, act, **context)


@act_page(
    keep_list, "inventory/price_list_new.html", rows=Supplier, called="supplier",
    to=lambda kept: reverse("supplier-price-list", args=[kept.pk]),
)  # fmt: skip
def price_list_new(request: ShopRequest, supplier: Supplier) -> Shown:
    form = PriceListForm(sent(request), sent_files(request), shop=request.shop, today=timezone.localdate())
    return {"form": form}


@act_page(
    take_over, "inventory/price_list.html", rows=LISTS, called="price_list", to="suppliers",
    says=lambda prices: f"{len(prices)} price{'s' if len(prices) > 1 else ''} taken over.",
)  # fmt: skip
def price_list(request: ShopRequest, price_list: PriceList) -> Shown:
    """Every change that the list would make; the button lets them count."""
    form = ShedForm(sent(request), shop=request.shop)
    return {"form": form, "list": price_list, "found": compare(price_list)}


@open_to(*SEES_MONEY)
def price_list_tie(request: ShopRequest, pk: int) -> HttpResponse:
    """What unknown lines are, a few on a page: those searched for, or those with a guess first."""
    row = get_object_or_404(LISTS, pk=pk)
    q, strangers = asked_for(request), Strangers(row, request.shop)
    found = strangers.about(q)
    sent_lines = _sent_lines(request, row)
    strangers.keep_tied(sent_lines)
    shown = sent_lines or found[:AT_ONCE]
    form = TieForm(sent(request), shop=request.shop, lines=shown, strangers=strangers)

    def act() -> str:
        many = tie(price_list=row, ties=form.ties, signed=signed(request))
        messages.success(
            request, f"{many} line{'s' if many > 1 else ''} tied. Prices count once you take the list over."
        )
        return reverse("supplier-price-list", args=[row.pk])

    return form_page(request, "inventory/price_list_tie.html", form, act, list=row, q=q, found=len(found))


def _sent_lines(request: ShopRequest, row: PriceList) -> list[PricedArticle]:
    """The lines that a form was sent for, tied meanwhile or not, so that a second tap finds what the first one did."""
    names = [name.removeprefix("what_") for name in request.POST if name.startswith("what_")][:AT_ONCE]
    lines = lines_of(row, request.shop) if names else {}
    return [lines[int(n)] for n in names if n.isascii() and n.isdigit() and len(n) < 9 and int(n) in lines]

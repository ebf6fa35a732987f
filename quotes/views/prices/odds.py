"""How sure a price is: its ranges, its chance of loss, what moves it, and what it would take. For the shop only."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone

from quotes import quoting
from quotes import recipes as book
from quotes.costing import Construction, Sensitivity, Snapshot, sensitivities
from quotes.estimating import Inputs, construction, core_recipe, read_typed, shop_inputs
from quotes.forms.odds import WantedForm
from quotes.models import Recipe, RecipeVersion, Way, WayPart
from quotes.quoting import odds
from quotes.quoting.repairs import names_of
from quotes.recipes.words import figure
from shop.models import Role
from shop.platform.acts import SEES_MONEY
from shop.text.formats import within
from shop.web.access import open_to
from shop.web.request import ShopRequest


@open_to(*SEES_MONEY)
def way_sure(request: ShopRequest, pk: int) -> HttpResponse:
    """One way of a quote, from its stored parts."""
    way = get_object_or_404(Way.objects.select_related("board__quote__payer", "board__takein__board"), pk=pk)
    quote = way.board.quote
    parts = list(way.parts.select_related("recipe_version__recipe", "damage"))
    inputs = shop_inputs(day=timezone.localdate()).of_quote(quote.payer.discount_percent, quote.rush_percent)
    board = construction(way.board.takein)
    context = {
        "heading": way.title,
        "up": reverse("quote", args=[quote.pk]),
        "up_words": str(quote),
        "price": way.totals.get("shown"),
        "lacking": quoting.missing_once(way.lacks, timezone.localdate()).sentences,
    }
    if way.net is None or not parts:
        return render(request, "quotes/recipe_sure.html", context)
    bought = sum((line.cost for line in way.lines.all()), Decimal(0))
    movers = [
        replace(mover, words=f"{mover.words}, {name}") if name else mover
        for name, part in zip(_told_apart(parts), parts, strict=True)
        for mover in _movers(part.recipe_version, part.measures, part.accepted_odd, board, inputs)
    ]
    context["against"] = dict.fromkeys(
        problem.text for part in parts for problem in core_recipe(part.recipe_version).refusals(board)
    )
    context["several"] = len(parts) > 1
    snapshots = [part.estimate for part in parts]
    return _page(request, context, snapshots, net=way.net, bought=bought, inputs=inputs, movers=movers)


@open_to(Role.KEEPER)
def recipe_sure(request: ShopRequest, key: str) -> HttpResponse:
    """A recipe on its reference board."""
    row = get_object_or_404(Recipe, key=key)
    version, inputs = row.current, shop_inputs(day=timezone.localdate())
    made = book.on_reference(version.body, row.reference, inputs)
    snapshot = made.snapshot()
    context = {
        "heading": f"{row.name} on its reference board",
        "up": reverse("recipe", args=[key]),
        "up_words": row.name,
        "price": snapshot.shown,
        "lacking": quoting.missing_once(made.problems, inputs.day).sentences,
    }
    if made.priced is None:
        return render(request, "quotes/recipe_sure.html", context)
    reference = book.reference_of(core_recipe(version), row.reference)
    movers = _movers(version, reference.measures, list(reference.measures), reference.board, inputs)
    return _page(request, context, [snapshot], net=made.priced.net, bought=Decimal(0), inputs=inputs, movers=movers)


def _told_apart(parts: Sequence[WayPart]) -> list[str]:
    """Of which repair a figure is, where a way has several; "" where there is one."""
    return [within(name) for name in names_of(parts)] if len(parts) > 1 else [""] * len(parts)


def _movers(
    version: RecipeVersion, typed: Mapping[str, str], odd: Sequence[str], board: Construction, inputs: Inputs
) -> list[Sensitivity]:
    core = core_recipe(version)
    given, _ = read_typed(core, typed, volume_system=inputs.volume_system)
    return sensitivities(core, given, inputs.shop, board=board, accepted_odd=odd)


def _page(
    request: ShopRequest,
    context: dict[str, Any],
    snapshots: Sequence[Snapshot],
    *,
    net: Decimal,
    bought: Decimal,
    inputs: Inputs,
    movers: Sequence[Sensitivity],
) -> HttpResponse:
    pricing = inputs.shop.pricing
    form = WantedForm(request.GET or None, shop=request.shop)
    wanted: dict[str, Any] = {}
    if form.is_bound and form.is_valid():
        earning, chance = form.cleaned_data["earning"], form.cleaned_data["chance"]
        wanted = {
            "earning": earning,
            "for_earning": None
            if earning is None
            else odds.price_to_earn(snapshots, earning, bought=bought, pricing=pricing),
            "chance": chance,
            "for_chance": None
            if chance is None
            else odds.price_for_chance(snapshots, chance, bought=bought, pricing=pricing),
        }
    return render(
        request,
        "quotes/recipe_sure.html",
        {
            **context,
            "odds": odds.odds(snapshots, net=net, bought=bought, pricing=pricing),
            "net": net,
            "known_from": odds.known_from(snapshots),
            "form": form,
            "wanted": wanted,
            "chart": _chart(movers),
        },
        status=422 if form.is_bound and form.errors else 200,
    )


def _chart(movers: Sequence[Sensitivity]) -> dict[str, Any]:
    """The bars with their ends in words."""
    chart = odds.bars(sorted(movers, key=lambda one: -one.span))
    for row in chart["rows"]:
        mover = row["mover"]
        row["low"], row["high"] = (figure(float(f"{end:.3g}"), mover.unit) for end in (mover.low, mover.high))
    return chart

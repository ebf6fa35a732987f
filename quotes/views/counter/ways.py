"""Ways of a quote: choose a recipe, fill in its measures, set words and price, and open any figure."""

from __future__ import annotations

from collections.abc import Collection
from decimal import Decimal
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from quotes import quoting
from quotes.costing.why.buildup import Node, cost_tree
from quotes.estimating import core_recipe
from quotes.experience import current_state
from quotes.forms.quotes import PartForm, WayForm
from quotes.models import QuoteBoard, RecipeVersion, Way, WayLine, WayPart
from quotes.quoting.choosing import FITS, choices, prefilled
from quotes.quoting.odds import known_from
from quotes.views.counter.quotes import to_quote
from shop.forms.fields import ShedForm
from shop.platform.acts import SEES_MONEY
from shop.web.access import open_to
from shop.web.page import Shown, act_page, form_page, sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import filled

WAYS = Way.objects.select_related("board__quote__payer", "board__takein__board")
WITH_WAY = ("way__board__quote__payer", "way__board__takein__board")
PARTS = WayPart.objects.select_related("recipe_version__recipe", "damage", *WITH_WAY)
LINES = WayLine.objects.select_related(*WITH_WAY)


@open_to(*SEES_MONEY)
def way_new(request: ShopRequest, board: int) -> HttpResponse:
    """A new way for a board: its damage, its recipe, its measures."""
    quoted = get_object_or_404(QuoteBoard.objects.select_related("quote__payer", "takein__board"), pk=board)
    return _choose_and_measure(request, quoted, None)


@open_to(*SEES_MONEY)
def part_new(request: ShopRequest, way: int) -> HttpResponse:
    """One more repair in the same way."""
    row = get_object_or_404(WAYS, pk=way)
    return _choose_and_measure(request, row.board, row)


def _choose_and_measure(request: ShopRequest, quoted: QuoteBoard, way: Way | None) -> HttpResponse:
    damages = list(quoted.takein.damages.all())
    asked = {**request.GET.dict(), **request.POST.dict()}  # the form is sent to the address that chose the recipe
    versions = list(RecipeVersion.objects.current())
    version = next((one for one in versions if one.recipe.key == asked.get("recipe")), None)
    damage = next((one for one in damages if str(one.pk) == asked.get("damage")), None)
    if damage is None and len(damages) == 1 and "damage" not in asked:
        damage = damages[0]
    context: dict[str, Any] = {
        "quoted": quoted, "quote": quoted.quote, "board": quoted.takein.board, "way": way, "damages": damages,
        "damage": damage,
    }  # fmt: skip
    if version is None:
        if not damages or damage is not None or "damage" in asked:
            found = choices(versions, damage, quoted.takein)
            context["suited"] = [one for one in found if one.rank == FITS]
            context["others"] = [one for one in found if one.rank != FITS]
        return render(request, "quotes/way_choose.html", context)
    core = core_recipe(version)
    form = PartForm(
        sent(request), shop=request.shop, core=core, damages=damages, new_way=way is None,
        button="Add to the way" if way else "Work it out",
        initial={
            "damage": str(damage.pk) if damage else "", "title": core.name, "words": core.about,
            **PartForm.showing(core, prefilled(core, damage, quoted.takein.board)),
        },
    )  # fmt: skip

    def act() -> str:
        if way is not None:
            quoting.add_part(way=way, version=version, **form.entries(), signed=signed(request))
            return reverse("way-edit", args=[way.pk])
        quoting.add_way(board=quoted, version=version, **form.entries(), signed=signed(request))
        return to_quote(quoted.quote)

    return form_page(request, "quotes/way_measure.html", form, act, version=version, core=core, **context)


@act_page(
    quoting.edit_part, "quotes/way_measure.html", rows=PARTS, called="part",
    to=lambda part: reverse("way-edit", args=[part.way_id]),
)  # fmt: skip
def part_edit(request: ShopRequest, part: WayPart) -> Shown:
    """Other measures for a repair."""
    quoted, core = part.way.board, core_recipe(part.recipe_version)
    form = PartForm(
        sent(request), shop=request.shop, core=core, damages=list(quoted.takein.damages.all()), button="Work it out again",
        initial={"damage": str(part.damage_id or ""), **PartForm.showing(core, part.measures)},
    )  # fmt: skip
    return {"form": form, "way": part.way, "quote": quoted.quote, "core": core, "board": quoted.takein.board}


@open_to(*SEES_MONEY)
def part_remove(request: ShopRequest, pk: int) -> HttpResponse:
    part = get_object_or_404(WayPart.objects.select_related("recipe_version__recipe", "way__board__quote"), pk=pk)

    def act() -> str:
        quoting.remove_part(part=part, signed=signed(request))
        return reverse("way-edit", args=[part.way_id])

    return one_tap(request, part.way, act)


@open_to(*SEES_MONEY)
def part_optional(request: ShopRequest, pk: int) -> HttpResponse:
    """Whether the customer may leave a repair."""
    part = get_object_or_404(WayPart.objects.select_related("recipe_version__recipe", "way__board__quote"), pk=pk)

    def act() -> str:
        optional = request.POST.get("optional") == "yes"
        quoting.leave_to_customer(part=part, optional=optional, signed=signed(request))
        return reverse("way-edit", args=[part.way_id])

    return one_tap(request, part.way, act)


@act_page(quoting.edit_way, "quotes/way_edit.html", rows=WAYS, called="way", to=lambda way: to_quote(way.board.quote))
def way_edit(request: ShopRequest, way: Way) -> Shown:
    """A way's words, day and price by hand, its repairs and its lines by hand."""
    return _way_shown(way, WayForm(sent(request), shop=request.shop, initial=WayForm.showing(way)))


def _repairs(way: Way) -> list[dict[str, Any]]:
    """The way's repairs, each with what it comes to beside the others."""
    told = {one["part"]: one for one in way.totals.get("damages") or ()}
    return [{"part": part, "told": told.get(part.pk)} for part in quoting.parts_of(way)]


def _way_shown(way: Way, form: WayForm) -> Shown:
    return {
        "form": form,
        "way": way,
        "quote": way.board.quote,
        "board": way.board.takein.board,
        "parts": _repairs(way),
        "lines": way.lines.all(),
        "draft": way.board.quote.open_to_change,
        "shown": way.totals.get("shown"),
    }


def one_tap(request: ShopRequest, way: Way, act: Any) -> HttpResponse:
    """A button on the way's page; what it is refused with is shown there."""
    if request.method != "POST":
        return redirect("way-edit", pk=way.pk)
    tapped = ShedForm(request.POST, shop=request.shop)
    answer = filled(request, tapped, act)
    if answer:
        return answer
    form = WayForm(None, shop=request.shop, initial=WayForm.showing(way))
    context = {**_way_shown(way, form), "tapped": tapped, "failed": True}
    return render(request, "quotes/way_edit.html", context, status=422)


@open_to(*SEES_MONEY)
def way_up(request: ShopRequest, pk: int) -> HttpResponse:
    way = get_object_or_404(WAYS, pk=pk)

    def act() -> str:
        quoting.move_way_up(way=way, signed=signed(request))
        return to_quote(way.board.quote)

    return one_tap(request, way, act)


@act_page(quoting.remove_way, "quotes/way_remove.html", rows=WAYS, called="way", to=to_quote)
def way_remove(request: ShopRequest, way: Way) -> Shown:
    """Asked once, because what was measured goes with it."""
    return {"form": ShedForm(sent(request), shop=request.shop), "quote": way.board.quote}


@open_to(*SEES_MONEY)
def way_why(request: ShopRequest, pk: int) -> HttpResponse:
    """Why a way costs what it does: any figure opens."""
    way = get_object_or_404(WAYS, pk=pk)
    parts = list(way.parts.select_related("recipe_version__recipe", "damage"))
    margin = way.totals.get("margin") or {}
    priced = way.totals.get("price") is not None
    met = set(current_state().trade.factors) if request.user.is_keeper else set()
    bought = [line for line in way.lines.all() if line.cost]
    context = {
        "way": way,
        "quote": way.board.quote,
        "board": way.board.takein.board,
        "parts": [{"part": part, "tree": _shown(cost_tree(part.estimate), met) if priced else None} for part in parts],
        "several": len(parts) > 1,
        "known_from": known_from([part.estimate for part in parts]),
        "together": quoting.set_ups_in_words(way),
        "totals": way.totals,
        "trail": margin.get("trail", []),
        "margin": margin,
        "bought": bought,
        "work_cost": (way.cost or Decimal(0)) - sum((line.cost for line in bought), Decimal(0)),
        "tax_rows": (way.totals.get("document") or {}).get("tax_rows", []),
        "priced": priced,
        "lacking": quoting.missing_once(way.lacks, timezone.localdate()).sentences,
    }
    return render(request, "quotes/way_why.html", context)


def _shown(node: Node, met: Collection[tuple[str, str]]) -> dict[str, Any]:
    """A figure of the tree for the page: its unit apart from what it is per; a factor that jobs have met has a page."""
    per = node.unit.removeprefix("per ") if node.unit.startswith("per ") else ""
    return {
        "label": node.label,
        "value": node.value,
        "unit": "" if per else node.unit,
        "per": per,
        "shown": node.shown,
        "how": node.how,
        "source": node.source,
        "children": [_shown(child, met) for child in node.children],
        "page": reverse("operation", args=node.cell) if node.cell in met else "",
    }

"""The wall price list: for the shop with what has moved, for customers as a page, and as a paper for the counter."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.models import Material
from quotes import pricelist, quoting
from quotes.costing import Problem
from quotes.estimating import core_recipe
from quotes.forms.pricelist import RowForm, RowNewForm
from quotes.models import PriceListPrint, PriceListRow
from quotes.papers import price_list as paper
from quotes.views.prices.price_panel import other_rows
from shop.forms.fields import ShedForm
from shop.models import Role
from shop.papers.paper import as_pdf
from shop.platform.acts import SEES_MONEY
from shop.web.access import open_to
from shop.web.page import Shown, act_page, sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import asked_for, filled

PRINTS = 10  # shown on the page


@open_to(*SEES_MONEY)
def price_list(request: ShopRequest) -> HttpResponse:
    """The list as it is today, what has moved since the last print, and what is missing."""
    return _page(request, ShedForm(None, shop=request.shop))


def _page(request: ShopRequest, form: ShedForm) -> HttpResponse:
    listed = pricelist.price_list(day=timezone.localdate())
    prints = list(PriceListPrint.objects.select_related("by", "document").defer("document__pdf")[:PRINTS])
    last = prints[0] if prints else None
    q = asked_for(request)
    rows = _rows(listed, q)
    context = {
        "form": form,
        "q": q,
        "count": len(listed.lines),
        "found": sum(len(group["lines"]) for group in rows),
        "list": paper.context(pricelist.content_of(listed)),
        "rows": rows,
        **_missing(listed),
        "guessed": listed.guessed,
        "sheet": reverse("price-sheet"),
        "together": listed.together,
        "prints": prints,
        "last": last,
        "moves": shown_moves(pricelist.moved(listed.said(), last.prices)) if last else [],
    }
    return render(request, "quotes/pricelist.html", context, status=422 if form.is_bound else 200)


def _rows(listed: pricelist.WallPriceList, q: str) -> list[dict[str, Any]]:
    """The lines whose words hold every word of `q`, under their repair with the least of its prices."""
    held = [(repair, [line for line in lines if _holds(line, q)]) for repair, lines in listed.groups]
    return [
        {
            "repair": repair,
            "least": min((cell.price for line in lines for cell in line.cells if cell.price is not None), default=None),
            "lines": [
                {
                    "row": line.row,
                    "cells": [
                        {
                            "words": cell.column.words,
                            "price": cell.price,
                            "state": "not done" if cell.refused else "not known",
                        }
                        for cell in line.cells
                    ],
                }
                for line in lines
            ],
        }
        for repair, lines in held
        if lines
    ]


def _holds(line: pricelist.PriceLine, words: str) -> bool:
    said = f"{line.row} {line.row.recipe.name}".casefold()
    return all(word in said for word in words.casefold().split())


def _missing(listed: pricelist.WallPriceList) -> dict[str, Any]:
    """What keeps rows from having a price, each thing once; a repair that must not be done to a board is no gap."""
    lacking = {line.row.pk: _problems(line) for line in listed.lines}
    missing = quoting.missing_once([one for found in lacking.values() for one in found], listed.day)
    pages = dict(Material.objects.values_list("key", "pk"))
    rows: dict[str, dict[str, Any]] = {}
    for line in listed.lines:
        for found in other_rows(lacking[line.row.pk], line.row.recipe.key, missing, pages):
            rows.setdefault(found["text"], {**found, "rows": []})["rows"].append(str(line.row))
    return {"missing": missing, "lacking": list(rows.values()), "unpriced": sum(map(bool, lacking.values()))}


def _problems(line: pricelist.PriceLine) -> list[Problem]:
    return [problem for cell in line.cells if not cell.refused for problem in cell.problems]


def shown_moves(moves: list[pricelist.Move]) -> list[dict[str, Any]]:
    """What has moved since a print, as a table shows it."""
    return [
        {
            "what": f"{move.repair}, {move.size}" if move.size else move.repair,
            "column": move.column_words,
            "old": move.old,
            "new": move.new,
            "by": abs(move.new - move.old) if move.old is not None and move.new is not None else None,
            "way": "up" if move.old is not None and move.new is not None and move.new > move.old else "down",
        }
        for move in moves
    ]


@open_to(*SEES_MONEY)
def price_list_web(request: ShopRequest) -> HttpResponse:
    """The page to show customers: prices only."""
    listed = pricelist.price_list(day=timezone.localdate())
    return render(request, "quotes/pricelist_web.html", paper.context(pricelist.content_of(listed)))


@open_to(*SEES_MONEY)
@require_POST
def price_list_print(request: ShopRequest) -> HttpResponse:
    """Makes a print, keeps it, and leads to its paper."""

    def act() -> str:
        who = signed(request)
        made = pricelist.print_list(signed=who, day=timezone.localdate(who.at))
        return f"{reverse('price-list-pdf')}?print={made.pk}"

    return _button(request, act)


def _button(request: ShopRequest, act: Callable[[], str]) -> HttpResponse:
    """What a button of the page does, once; refused, the page again with the sentence on top."""
    form = ShedForm(request.POST, shop=request.shop)
    return filled(request, form, act) or _page(request, form)


@open_to(*SEES_MONEY)
def price_list_pdf(request: ShopRequest) -> HttpResponse:
    """The paper of one print, the last one unless another is named."""
    prints = PriceListPrint.objects.select_related("document")
    wanted = request.GET.get("print", "")
    made = prints.filter(pk=int(wanted)).first() if wanted.isascii() and wanted.isdigit() else prints.first()
    if made is None:
        raise Http404("no such print")
    return as_pdf(bytes(made.document.pdf), made.document.name)


@act_page(pricelist.add_row, "quotes/pricelist_row_new.html", to=lambda row: reverse("price-row", args=[row.pk]))
def price_row_new(request: ShopRequest) -> Shown:
    return {"form": RowNewForm(sent(request), shop=request.shop, initial={"repair": request.GET.get("repair", "")})}


@act_page(
    pricelist.change_row, "quotes/pricelist_row.html", rows=PriceListRow.objects.select_related("recipe"), called="row",
    to="price-list", says="Saved.",
)  # fmt: skip
def price_row(request: ShopRequest, row: PriceListRow) -> Shown:
    """What a row is called and the measures it is priced for; its other buttons move it and take it out."""
    return {"form": RowForm(sent(request), shop=request.shop, row=row, core=core_recipe(row.recipe.current))}


@open_to(Role.KEEPER)
@require_POST
def price_row_move(request: ShopRequest, pk: int) -> HttpResponse:
    """Up, down, or out."""
    row = get_object_or_404(PriceListRow, pk=pk)
    do = request.POST.get("do")

    def act() -> str:
        if do == "out":
            pricelist.remove_row(row=row, signed=signed(request))
            messages.success(request, f"{row} is off the list.")
            return reverse("price-list")
        pricelist.move_row(row=row, steps=-1 if do == "up" else 1, signed=signed(request))
        return f"{reverse('price-list')}#row-{row.pk}"

    return _button(request, act)


@open_to(Role.KEEPER)
@require_POST
def price_list_fill(request: ShopRequest) -> HttpResponse:
    """The rows a shop starts with, onto an empty list."""

    def act() -> str:
        rows = pricelist.load_starting_rows()
        messages.success(request, f"{len(rows)} rows put in.")
        return reverse("price-list")

    return _button(request, act)

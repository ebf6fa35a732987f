"""What is on the shelf: the whole store, one material, and the questions between shelf and bench."""

from __future__ import annotations

import uuid
from datetime import date
from decimal import Decimal
from itertools import groupby
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.core.paginator import Page, Paginator
from django.db.models import OuterRef, Prefetch, Subquery, Sum
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone

from inventory.buying.out_of_line import SOON, out_of_line, state_of, with_states
from inventory.catalogue.materials import answer_question, answer_questions
from inventory.forms.movements import StockAnswerForm
from inventory.models import Container, Count, Lot, Material, Movement, MovementKind, Pack, PackPrice, StockQuestion
from inventory.stock.prices import replacement_price
from inventory.stock.selling import COSTS_TO_SELL, SELLS_FOR, goods_prices
from inventory.stock.standing import standing
from shop.models import Profile
from shop.platform.acts import EVERY_ROLE
from shop.web.access import open_to
from shop.web.page import ROWS, form_page, sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import asked_for

MOVES = 12  # of a material, under all else that its page says
MOVES_SHOWN = 3  # of them, the others behind a tap
MONEY_FACTS = (SELLS_FOR, COSTS_TO_SELL)  # of counter goods; no figure for the bench
FIRST = 8  # of what is out of line, on the store's own page


@open_to(*EVERY_ROLE)
def store(request: ShopRequest) -> HttpResponse:
    """What is out of line and the shelves, folded; or what is searched for, one shelf, or all that is out of line."""
    today = timezone.localdate()
    words, shelf, look = (asked_for(request, name) for name in ("q", "shelf", "look"))
    materials = Material.objects.in_use().search(words).order_by("shelf", "kind", "name", "pk")
    if shelf:
        materials = materials.filter(shelf="" if shelf == "-" else shelf)
    rows = with_states(materials, today)
    astray = out_of_line(rows)
    context: dict[str, Any] = {"q": words, "shelf": shelf, "look": look}
    if words or shelf or look:
        context["query"] = urlencode(context)
        context["page"] = Paginator(astray if look else rows, ROWS).get_page(request.GET.get("page"))
    else:
        context |= _whole_store(rows, astray)
    return render(request, "inventory/store.html", context)


def _whole_store(rows: list[Material], astray: list[Material]) -> dict[str, Any]:
    """The first of what is out of line, rounds of counting under way, and each shelf with what stands on it."""
    uncounted = [one for one in rows if not one.is_counted and not one.not_tracked]
    return {
        "astray": astray[:FIRST],
        "more": len(astray[FIRST:]),
        "questions": StockQuestion.objects.open().values("material").distinct().count(),
        "counts": list(Count.objects.open().with_progress().order_by("-pk")[:FIRST]),
        "uncounted": len(uncounted),
        "all": len(rows),
        "shelves": [
            (name or "-", name or "No shelf", list(group)) for name, group in groupby(rows, lambda one: one.shelf)
        ],
        "worth": Lot.objects.left().aggregate(worth=Sum("value_left"))["worth"],
    }


@open_to(*EVERY_ROLE)
def material(request: ShopRequest, pk: int) -> HttpResponse:
    """Page of a material with its lots."""
    today = timezone.localdate()
    row = get_object_or_404(Material.objects.with_stock().with_counted(), pk=pk)
    row.state, row.state_words = state_of(row, today)
    on_scale = Container.objects.filter(lot=OuterRef("pk"), emptied_at__isnull=True).values("pk")[:1]
    held = row.lots.left().annotate(container=Subquery(on_scale))  # type: ignore[no-redef] # declared on the model
    lots = list(held.in_order_of_issue().select_related("supplier"))
    for lot in lots:
        lot.stale = lot.out_of_date(today)
        lot.soon = lot.good_until is not None and not lot.stale and lot.good_until <= today + SOON
    context: dict[str, Any] = {
        "material": row,
        "lots": lots,
        "container": next((lot.container for lot in lots if lot.container), None),
        "page": (page := _movements(request, row)),
        "earlier": page.paginator.count - MOVES_SHOWN,
        "question": StockQuestion.objects.open().filter(material=row).once_a_material().first(),
        "just_done": _just_done(request, row),
    }
    context["facts"] = [(name, figure) for name, figure in row.facts.items() if name not in MONEY_FACTS]
    if request.user.sees_money:
        context["money_facts"] = _money_facts(request.shop, row, today)
        context |= {"packs": _packs(row, today), "price": replacement_price(row, today)}
    return render(request, "inventory/material.html", context)


def _money_facts(shop: Profile, row: Material, today: date) -> list[tuple[str, Decimal, str]]:
    """Name, money for one of its unit, and whether tax is in it."""
    if not any(name in row.facts for name in MONEY_FACTS):
        return []
    prices = goods_prices(shop, today)
    without = "without tax" if prices.registered else ""
    found = [(SELLS_FOR, prices.said(row), prices.words), (COSTS_TO_SELL, row.facts.get(COSTS_TO_SELL), without)]
    return [(name, money, words) for name, money, words in found if money is not None]


def _movements(request: ShopRequest, row: Material) -> Page[Movement]:
    movements = row.movements.select_related("lot", "by", "reversed_by").order_by("-pk")
    page = Paginator(movements, MOVES).get_page(request.GET.get("page"))
    stands = standing({movement.act for movement in page})
    for movement in page:
        movement.undone = hasattr(movement, "reversed_by")
        stand = None if movement.undone or movement.kind == MovementKind.REVERSAL else stands.get(movement.act)
        movement.stand, movement.opens = stand, stand is not None and stand.opens_for(request.user)
        movement.may_undo = (
            not movement.undone
            and stand is None
            and movement.kind != MovementKind.REVERSAL
            and (request.user.sees_money or movement.kind != MovementKind.RECEIVE)
        )
    return page


def _just_done(request: ShopRequest, row: Material) -> Movement | None:
    """What the form before this page booked, while it still counts: it can be undone with one tap."""
    try:
        act = uuid.UUID(request.GET.get("act", ""))
    except ValueError:
        return None
    done = list(row.movements.not_undone().filter(act=act).order_by("pk"))
    if not done or standing([act]):
        return None
    first = next((one for one in done if one.kind != MovementKind.DIFFERENCE), done[0])
    first.amount = abs(sum((one.quantity for one in done if one.kind == first.kind), Decimal(0)))
    return first


def _packs(row: Material, today: date) -> list[Pack]:
    prices = Prefetch("prices", PackPrice.objects.in_force(today), to_attr="priced")
    in_use = row.packs.in_use().select_related("supplier")
    packs = list(in_use.prefetch_related(prices))  # type: ignore[no-redef] # declared on the model
    for pack in packs:
        pack.price = pack.priced[0] if pack.priced else None
    return packs


@open_to(*EVERY_ROLE)
def questions(request: ShopRequest) -> HttpResponse:
    """Each material asked about once, by its newest question; then what was answered."""
    page = Paginator(StockQuestion.objects.once_a_material(), ROWS).get_page(request.GET.get("page"))
    return render(request, "inventory/questions.html", {"page": page})


@open_to(*EVERY_ROLE)
def question_answer(request: ShopRequest, pk: int) -> HttpResponse:
    """Page to answer a question about stock."""
    question = get_object_or_404(StockQuestion.objects.select_related("material", "movement"), pk=pk)
    others = list(StockQuestion.objects.open().filter(material=question.material).exclude(pk=question.pk))
    form = StockAnswerForm(sent(request), name=question.material.name, others=len(others), shop=request.shop)

    def act() -> str:
        answer, who = form.cleaned_data["answer"], signed(request)
        answer_question(question=question, answer=answer, signed=who)
        more = answer_questions(questions=others, answer=answer, signed=who) if form.cleaned_data.get("alike") else 0
        messages.success(request, f"{more + 1} questions are closed." if more else "The question is closed.")
        return reverse("questions")

    return form_page(request, "inventory/question_answer.html", form, act, question=question, others=others)

"""What is on the shelf: the whole store, one material, and the questions between shelf and bench."""

from __future__ import annotations

import uuid
from datetime import date, timedelta
from decimal import Decimal
from itertools import groupby
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.core.paginator import Page, Paginator
from django.db.models import Prefetch, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone

from inventory.catalogue import answer_question, answer_questions
from inventory.forms.movements import AnswerForm
from inventory.models import Lot, Material, Movement, MovementKind, Pack, PackPrice, StockQuestion
from inventory.prices import replacement_price
from inventory.selling import COSTS_TO_SELL, SELLS_FOR, goods_prices
from inventory.standing import standing
from inventory.views.page import form_page, sent
from shop.access import EVERY_ROLE, open_to
from shop.models import Profile
from shop.submission import asked_for

ROWS = 25
MOVES = 12  # of a material, under all else that its page says
MONEY_FACTS = (SELLS_FOR, COSTS_TO_SELL)  # of counter goods; no figure for the bench
SOON = timedelta(days=30)  # how long before its date a lot is pointed out


def state_of(material: Material, today: date) -> tuple[str, str]:
    """Shape and words for what is worth saying about a material (with stock, and whether counted) on a list."""
    if material.not_tracked or not material.is_counted:
        return "ahead", "not tracked" if material.not_tracked else "not counted yet"
    if not material.on_hand:
        return "ahead", "none left"
    if material.first_use_by and material.first_use_by < today:
        return "late", "out of date"
    if material.first_use_by and material.first_use_by <= today + SOON:
        return "wait", "use soon"
    return "done", "in date" if material.first_use_by else "on the shelf"


@open_to(*EVERY_ROLE)
def store(request: HttpRequest) -> HttpResponse:
    today = timezone.localdate()
    words, shelf, look = (asked_for(request, name) for name in ("q", "shelf", "look"))
    materials = Material.objects.in_use().with_stock().with_counted().search(words)
    if shelf:
        materials = materials.filter(shelf="" if shelf == "-" else shelf)
    if look:
        materials = materials.worth_a_look(today + SOON)
    page = Paginator(materials.order_by("shelf", "kind", "name", "pk"), ROWS).get_page(request.GET.get("page"))
    for material in page:
        material.state, material.state_words = state_of(material, today)
    context = {
        "page": page,
        "groups": [(name, list(rows)) for name, rows in groupby(page, key=lambda material: material.shelf)],
        "shelves": _shelves(),
        "shelf": shelf,
        "look": look,
        "q": words,
        "questions": StockQuestion.objects.open().values("material").distinct().count(),
        "worth": Lot.objects.left().aggregate(worth=Sum("value_left"))["worth"],
        "query": urlencode({"q": words, "shelf": shelf, "look": look}) if words or shelf or look else "",
    }
    return render(request, "inventory/store.html", context)


def _shelves() -> list[tuple[str, str]]:
    """Each shelf that something stands on, as its name in the address and in words."""
    names = Material.objects.in_use().order_by("shelf").values_list("shelf", flat=True).distinct()
    return [(name or "-", name or "No shelf") for name in names]


@open_to(*EVERY_ROLE)
def material(request: HttpRequest, pk: int) -> HttpResponse:
    today = timezone.localdate()
    row = get_object_or_404(Material.objects.with_stock().with_counted(), pk=pk)
    row.state, row.state_words = state_of(row, today)
    lots = list(row.lots.left().in_order_of_issue().select_related("supplier"))
    for lot in lots:
        lot.stale = lot.out_of_date(today)
        lot.soon = lot.good_until is not None and not lot.stale and lot.good_until <= today + SOON
    context: dict[str, Any] = {
        "material": row,
        "lots": lots,
        "page": _movements(request, row),
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


def _movements(request: HttpRequest, row: Material) -> Page[Movement]:
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


def _just_done(request: HttpRequest, row: Material) -> Movement | None:
    """What the form before this page booked, while it still counts: it can be undone with one tap."""
    try:
        act = uuid.UUID(request.GET.get("act", ""))
    except ValueError:
        return None
    done = list(row.movements.not_undone().filter(act=act).order_by("pk"))
    if not done or standing([act]):
        return None
    first = next((one for one in done if one.kind != MovementKind.DIFFERENCE), done[0])
    first.amount = abs(sum(one.quantity for one in done if one.kind == first.kind))
    return first


def _packs(row: Material, today: date) -> list[Pack]:
    prices = Prefetch("prices", PackPrice.objects.in_force(today), to_attr="priced")
    packs = list(row.packs.in_use().select_related("supplier").prefetch_related(prices))
    for pack in packs:
        pack.price = pack.priced[0] if pack.priced else None
    return packs


@open_to(*EVERY_ROLE)
def questions(request: HttpRequest) -> HttpResponse:
    """Each material asked about once, by its newest question; then what was answered."""
    page = Paginator(StockQuestion.objects.once_a_material(), ROWS).get_page(request.GET.get("page"))
    return render(request, "inventory/questions.html", {"page": page})


@open_to(*EVERY_ROLE)
def question_answer(request: HttpRequest, pk: int) -> HttpResponse:
    question = get_object_or_404(StockQuestion.objects.select_related("material", "movement"), pk=pk)
    others = list(StockQuestion.objects.open().filter(material=question.material).exclude(pk=question.pk))
    form = AnswerForm(sent(request), name=question.material.name, others=len(others), shop=request.shop)

    def act() -> str:
        said = {"answer": form.cleaned_data["answer"], "by": request.user, "at": timezone.now()}
        answer_question(question=question, **said)
        more = answer_questions(questions=others, **said) if form.cleaned_data.get("alike") else 0
        messages.success(request, f"{more + 1} questions are closed." if more else "The question is closed.")
        return reverse("questions")

    return form_page(request, "inventory/question_answer.html", form, act, question=question, others=others)

"""The two-minute job: pick a recipe, measure, see the price, take the money."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone

from quotes import billing, quoting
from quotes.costing import Construction, Problem, boards_together, guessed_in, together_in_words
from quotes.estimating import core_recipe, estimate, price_way, shop_inputs
from quotes.forms.money import QuickForm
from quotes.models import Recipe, RecipeVersion
from shop.models import Board, Customer
from shop.platform.acts import SEES_MONEY, Refused
from shop.web.access import open_to
from shop.web.page import sent
from shop.web.post_login_replay import typed_anew
from shop.web.request import ShopRequest, signed
from shop.web.submission import asked_for, filled

USUAL = ("leash-plug", "pressure-dent")  # what is done while somebody waits, with the small dings
PEOPLE_AT_MOST = 200
NOT_MEASURED = {"length_mm": Decimal("1830"), "width_mm": Decimal("510")}  # 6′0″ × 20″, for the drawing only


@typed_anew
@open_to(*SEES_MONEY)
def quick(request: ShopRequest) -> HttpResponse:
    """One screen: the recipe is picked first, then one form from measures to money."""
    key = asked_for(request, "recipe")
    recipes = list(Recipe.objects.in_use().order_by("name"))
    if not key:
        usual = [recipe for recipe in recipes if recipe.key in USUAL or recipe.key.endswith("-small")]
        others = [recipe for recipe in recipes if recipe not in usual]
        return render(request, "quotes/quick_pick.html", {"usual": usual, "others": others})
    recipe = get_object_or_404(Recipe.objects.in_use(), key=key[:60])
    version = recipe.current
    core = core_recipe(version)
    people = list(Customer.objects.in_the_book().filter(walk_in=False).order_by("name")[:PEOPLE_AT_MOST])
    form = QuickForm(sent(request), core=core, people=people, shop=request.shop, initial=QuickForm.showing(core))
    priced = None
    if request.method == "POST":
        priced = _priced(form, version)
    if "pay" in request.POST:
        answer = filled(request, form, lambda: _pay(request, form, version))
        if answer:
            messages.success(request, "Paid, and the board may go. Print the invoice or the receipt.")
            return answer
        priced = None
    sheet = f"{reverse('recipe-price-sheet', args=[recipe.key])}?for=quick"
    context = {"recipe": recipe, "core": core, "form": form, "priced": priced, "sheet": sheet}
    refused = form.is_bound and bool(form.errors)
    return render(request, "quotes/quick.html", context, status=422 if refused else 200)


def _priced(form: QuickForm, version: RecipeVersion) -> dict[str, Any] | None:
    """The price as the customer would see it; None, with all that is wrong said in the form, while something is."""
    right = form.is_valid()
    data, customer = form.cleaned_data, form.customer()
    discount = customer.discount_percent if customer else Decimal(0)
    inputs = shop_inputs(day=timezone.localdate()).of_quote(discount)
    try:
        made = estimate(
            version=version, measures={name: text for name, text in form.typed().items() if text.strip()},
            day=inputs.day, board=Construction(core=data.get("board_core", "unknown"), resin=data.get("board_resin", "unknown")),
            inputs=inputs,
            accepted_odd=form.odd_names(),
        )  # fmt: skip
        if made.problems:
            form.refuse_others(_by_field(made.problems, inputs.day))
        if made.problems or not right:
            return None
        way = price_way([made.snapshot()], inputs=inputs, by_hand=data["price_by_hand"])
    except Refused as problem:
        form.refuse_others(problem.message_dict if hasattr(problem, "error_dict") else {"__all__": problem.messages})
        return None
    return {"shown": way["shown"], "gross": way["price"], "tax": way["tax"], "minutes": way["minutes"],
            "together": together_in_words(boards_together(inputs.shop)),
            "guessed": guessed_in(made.lines)}  # fmt: skip


def _by_field(problems: Sequence[Problem], day: date) -> dict[str, list[str]]:
    """What is wrong with a measure beside it, all else once above the form."""
    wrong: dict[str, list[str]] = {}
    for problem in problems:
        if problem.remedy.where == "measure":
            said = wrong.setdefault(problem.field, [])
            said += [] if problem.text in said else [problem.text]
    above = quoting.missing_once([one for one in problems if one.remedy.where != "measure"], day).sentences
    return wrong | ({"__all__": above} if above else {})


def _pay(request: ShopRequest, form: QuickForm, version: RecipeVersion) -> str:
    data = form.cleaned_data
    board = Board(
        name=f"Board for {version.recipe.name.lower()}"[:120],
        core=data["board_core"],
        resin=data["board_resin"],
        note="Size not measured: a two-minute job.",
        **NOT_MEASURED,
    )
    payment = billing.two_minute_job(
        version=version,
        measures=form.typed(),
        board=board,
        customer=form.customer(),
        method=data["method"],
        accepted_odd=form.odd_names(),
        price_by_hand=data["price_by_hand"],
        price_reason=data["price_reason"],
        below_cost=form.said_yes("below_cost"),
        shown=_shown(request.POST.get("shown", "")),
        minutes=form.hands_on(),
        signed=signed(request),
    )
    return reverse("receipt", args=[payment.pk])


def _shown(text: str) -> Decimal:
    """The price the page showed, as the page itself wrote it."""
    whole, _, cents = text.partition(".")
    if not (
        whole.isascii() and whole.isdigit() and (cents or "0").isascii() and (cents or "0").isdigit() and len(text) < 16
    ):
        raise Refused("Look at the price first, then take the money.")
    return Decimal(text)

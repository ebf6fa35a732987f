"""Boards come in: the one page of take-in, the record of a board that is here, its damages, its slip."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db.models import Prefetch
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from quotes import quoting
from quotes.forms.damages import POINTED, DamageForm, pointing
from quotes.forms.takein import MOST_ROWS, TakeInEditForm, TakeInForm, board_as_typed
from quotes.models import Damage, Quote, TakeIn
from quotes.papers import slip
from shop.forms.fields import ShedForm
from shop.forms.people import said_of
from shop.models import Board, Customer
from shop.papers.paper import PaperProblem, as_pdf
from shop.people import customers as people
from shop.platform.acts import EVERY_ROLE, SEES_MONEY
from shop.web.access import open_to
from shop.web.page import Shown, act_page, form_page, sent, sent_files
from shop.web.request import ShopRequest, signed
from shop.web.submission import asked_for, filled

FOUND_AT_MOST, FEWEST_SIGNS = 8, 2  # of a name or a phone
WITH_BOARD = Damage.objects.select_related("takein__board")


def to_takein(takein: TakeIn) -> str:
    return reverse("takein", args=[takein.pk])


@open_to(*SEES_MONEY)
def takein_new(request: ShopRequest) -> HttpResponse:
    """Who, which board, what is damaged, what was looked at: on one page, each asked once."""
    asked = request.POST if request.method == "POST" else request.GET
    customer = _chosen(Customer.objects.select_related("merged_into"), asked.get("customer"))
    customer = customer and customer.current
    board = _chosen(Board.objects.select_related("owner"), asked.get("board"))
    if board and not customer:
        customer = board.owner
    here = TakeIn.objects.filter(board=board, gone_at__isnull=True).first() if board else None
    if here and request.method == "GET":
        messages.info(request, f"This board is already here, with tag {here.tag}: add to this record.")
        return redirect("takein", here.pk)
    rows = _rows(asked.get("rows"))
    known: dict[str, Any] = {"customer": customer, "board": board, "shop": request.shop}
    if request.method == "POST" and "more" in request.POST:
        rows = min(rows + 1, MOST_ROWS)
        fresh = TakeInForm(None, initial=request.POST.dict(), rows=rows, **known)
        fresh.go_on_at(f"d{rows - 1}_kind")
        return _takein_page(request, fresh, 200)
    form = TakeInForm(sent(request), sent_files(request), rows=rows, **known)

    def act() -> str:
        who = signed(request)
        known = None if customer else form.known()
        takein = quoting.take_in(signed=who, **form.entries(known))
        if known:
            entries = form.who_entries()
            completed = people.complete_customer(signed=who, customer=known, country=request.shop.country, **entries)
            if words := said_of(completed):
                messages.info(request, words)
        return to_takein(takein)

    answer = filled(request, form, act)
    if answer:
        messages.success(request, "The board is in. Print its slip and tag, then write the quote.")
        return answer
    return _takein_page(request, form, 422 if form.is_bound else 200)


def _found(words: str) -> Any:
    """Who is meant, with their boards: two queries."""
    people = Customer.objects.in_the_book().filter(walk_in=False).nearest(words)
    return people.prefetch_related("boards")[:FOUND_AT_MOST]


def _takein_page(request: ShopRequest, form: TakeInForm, status: int) -> HttpResponse:
    q = asked_for(request)
    customer, board = form.customer, form.board
    typed = {name: str(value) for name, value in (form.data or form.initial).items()}
    return render(
        request,
        "quotes/takein_new.html",
        {
            "form": form,
            "q": q,
            "found": _found(q) if len(q) >= FEWEST_SIGNS and not customer else [],
            "searched": len(q) >= FEWEST_SIGNS,
            "customer": customer,
            "board": board,
            "boards": customer.boards.all() if customer and not board else [],
            "drawn": board or board_as_typed(typed),
            "another": form.rows + 1 if form.rows < MOST_ROWS else None,
        },
        status=status,
    )


def _chosen(rows: Any, key: str | None) -> Any:
    """The row with this key, or none for anything that is not the key of one."""
    return rows.filter(pk=int(key)).first() if key and key.isascii() and key.isdigit() and len(key) < 19 else None


def _rows(text: str | None) -> int:
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 3 else 1


@open_to(*SEES_MONEY)
def takein_outline(request: ShopRequest) -> HttpResponse:
    """The drawing of a board from the side chosen, to point at: a known one, or as its sizes are typed; nothing while
    they cannot be read."""
    prefix = f"d{_rows(request.GET.get('row')) - 1}_"
    board = _chosen(Board.objects, request.GET.get("board"))
    return render(
        request,
        "quotes/takein_outline.html",
        {
            "drawn": board or board_as_typed(request.GET),
            "x": f"id_{prefix}from_tail",
            "y": f"id_{prefix}from_stringer",
            "hand": f"{prefix}hand",
            **pointing({name: request.GET.get(prefix + name, "") for name in POINTED}),
        },
    )


@open_to(*EVERY_ROLE)
def takein(request: ShopRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(
        TakeIn.objects.select_related("board", "brought_by", "payer", "by").prefetch_related(
            "damages__photos", "jobs", "board__photos", Prefetch("quoted__quote", Quote.objects.all())
        ),
        pk=pk,
    )
    quotes = list(dict.fromkeys(quoted.quote for quoted in row.quoted.all()))
    shown = {photo.pk for damage in row.damages.all() for photo in damage.photos.all()}
    drawing = ", ".join(f"{damage.number} {damage.get_kind_display()}" for damage in row.damages.all())
    return render(
        request,
        "quotes/takein.html",
        {
            "takein": row,
            "board": row.board,
            "damages": row.damages.all(),
            "quotes": quotes,
            "jobs": row.jobs.all(),
            "open_checks": [check for check in row.checks if not check["ok"]],
            "drawing_words": f"The board with its damages: {drawing}" if drawing else "The board",
            "photos": [photo for photo in row.board.photos.all() if photo.pk not in shown],
        },
    )


@open_to(*EVERY_ROLE)
def tag(request: ShopRequest, tag: str) -> HttpResponse:
    """What the code on a board's tag opens."""
    return redirect("takein", pk=get_object_or_404(TakeIn, tag__iexact=tag).pk)


@act_page(
    quoting.edit_take_in, "quotes/takein_edit.html",
    rows=TakeIn.objects.select_related("board__owner", "brought_by", "payer"), called="takein", to=to_takein,
)  # fmt: skip
def takein_edit(request: ShopRequest, takein: TakeIn) -> Shown:
    initial = TakeInEditForm.showing(takein)
    return {"form": TakeInEditForm(sent(request), shop=request.shop, takein=takein, initial=initial)}


@open_to(*EVERY_ROLE)
def takein_slip(request: ShopRequest, pk: int) -> HttpResponse:
    """Claim slip and board tag, to print."""
    row = get_object_or_404(TakeIn.objects.select_related("board", "brought_by"), pk=pk)
    try:
        pdf = slip.pdf(row, profile=request.shop)
    except PaperProblem as problem:
        messages.error(request, problem.sentence)
        return redirect("takein", pk=row.pk)
    return as_pdf(pdf, f"slip-{row.tag}.pdf")


@act_page(
    quoting.hand_back, "quotes/takein_back.html", rows=TakeIn.objects.select_related("board", "brought_by"),
    called="takein", to=to_takein,
)  # fmt: skip
def takein_back(request: ShopRequest, takein: TakeIn) -> Shown:
    """The board goes home without work: asked once, then done."""
    return {"form": ShedForm(sent(request), shop=request.shop)}


@open_to(*SEES_MONEY)
def damage_new(request: ShopRequest, takein: int) -> HttpResponse:
    row = get_object_or_404(TakeIn.objects.select_related("board").prefetch_related("damages"), pk=takein)
    form = DamageForm(sent(request), sent_files(request), shop=request.shop, board=row.board)

    def act() -> str:
        damage = form.fill(Damage(takein=row))
        quoting.add_damage(takein=row, damage=damage, photos=form.cleaned_data["photos"], signed=signed(request))
        return to_takein(row)

    return form_page(request, "quotes/damage.html", form, act, takein=row, damages=row.damages.all())


@open_to(*SEES_MONEY)
def damage_edit(request: ShopRequest, pk: int) -> HttpResponse:
    damage = get_object_or_404(WITH_BOARD, pk=pk)
    row, initial = damage.takein, DamageForm.showing(damage)
    form = DamageForm(sent(request), sent_files(request), shop=request.shop, board=row.board, initial=initial)

    def act() -> str:
        quoting.edit_damage(damage=form.fill(damage), photos=form.cleaned_data["photos"], signed=signed(request))
        return to_takein(row)

    return form_page(request, "quotes/damage.html", form, act, takein=row, damages=row.damages.all(), damage=damage)


@act_page(quoting.remove_damage, "quotes/damage_remove.html", rows=WITH_BOARD, called="damage", to=to_takein)
def damage_remove(request: ShopRequest, damage: Damage) -> Shown:
    """Takes a damage off that was marked by mistake."""
    return {"form": ShedForm(sent(request), shop=request.shop), "takein": damage.takein}

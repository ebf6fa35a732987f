"""Boards come in: the one page of take-in, the record of a board that is here, its damages, its slip."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from inventory.views.page import form_page, sent
from quotes import quoting
from quotes.forms.takein import MOST_ROWS, DamageForm, TakeInEditForm, TakeInForm, board_as_typed
from quotes.models import Damage, Quote, TakeIn
from quotes.papers import slip
from shop import people
from shop.access import EVERY_ROLE, SEES_MONEY, open_to
from shop.forms.fields import ShedForm
from shop.forms.people import said_of
from shop.models import Board, Customer
from shop.paper import PaperProblem, as_pdf
from shop.submission import asked_for, filled

FOUND_AT_MOST = 8


@open_to(*SEES_MONEY)
def takein_new(request: HttpRequest) -> HttpResponse:
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
        return _takein_page(request, TakeInForm(None, initial=request.POST.dict(), rows=rows, **known), 200)
    form = TakeInForm(sent(request), rows=rows, **known)

    def act() -> str:
        act = {"by": request.user, "at": timezone.now()}
        known = None if customer else form.known()
        takein = quoting.take_in(**act, **form.entries(known))
        if known:
            entries = form.who_entries()
            completed = people.complete_customer(**act, customer=known, country=request.shop.country, **entries)
            if words := said_of(completed):
                messages.info(request, words)
        return reverse("takein", args=[takein.pk])

    answer = filled(request, form, act)
    if answer:
        messages.success(request, "The board is in. Print its slip and tag, then write the quote.")
        return answer
    return _takein_page(request, form, 422 if form.is_bound else 200)


def _takein_page(request: HttpRequest, form: TakeInForm, status: int) -> HttpResponse:
    q = asked_for(request)
    customer, board = form.customer, form.board
    typed = {name: str(value) for name, value in (form.data or form.initial).items()}
    return render(
        request,
        "quotes/takein_new.html",
        {
            "form": form,
            "q": q,
            "found": Customer.objects.in_the_book().search(q)[:FOUND_AT_MOST] if q and not customer else [],
            "customer": customer,
            "board": board,
            "boards": customer.boards.all() if customer and not board else [],
            "drawn": board or board_as_typed(typed),
            "more": form.rows < MOST_ROWS,
        },
        status=status,
    )


def _chosen(rows: Any, key: str | None) -> Any:
    """The row with this key, or none for anything that is not the key of one."""
    return rows.filter(pk=int(key)).first() if key and key.isascii() and key.isdigit() and len(key) < 19 else None


def _rows(text: str | None) -> int:
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 3 else 1


@open_to(*SEES_MONEY)
def takein_outline(request: HttpRequest) -> HttpResponse:
    """The drawing of a board as its sizes are typed, to point at; nothing while they can not be read."""
    row = _rows(request.GET.get("row")) - 1
    return render(
        request,
        "quotes/takein_outline.html",
        {
            "drawn": board_as_typed(request.GET),
            "x": f"id_d{row}_from_tail",
            "y": f"id_d{row}_from_stringer",
            "hand": f"d{row}_hand",
        },
    )


@open_to(*EVERY_ROLE)
def takein(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(
        TakeIn.objects.select_related("board", "brought_by", "payer", "by").prefetch_related(
            "damages", "jobs", "board__photos", Prefetch("quoted__quote", Quote.objects.all())
        ),
        pk=pk,
    )
    quotes = list(dict.fromkeys(quoted.quote for quoted in row.quoted.all()))
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
            "photos": row.board.photos.all(),
        },
    )


@open_to(*EVERY_ROLE)
def tag(request: HttpRequest, tag: str) -> HttpResponse:
    """What the code on a board's tag opens."""
    return redirect("takein", pk=get_object_or_404(TakeIn, tag__iexact=tag).pk)


@open_to(*SEES_MONEY)
def takein_edit(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(TakeIn.objects.select_related("board__owner", "brought_by", "payer"), pk=pk)
    form = TakeInEditForm(sent(request), shop=request.shop, takein=row, initial=TakeInEditForm.showing(row))

    def act() -> str:
        data = form.cleaned_data
        said = {name: data[name] for name in ("wants", "left_with_it", "needed_by", "wet")}
        quoting.edit_take_in(
            takein=row, by=request.user, at=timezone.now(), checks=form.checked_lines(), payer=form.payer(), **said
        )
        return reverse("takein", args=[row.pk])

    return form_page(request, "quotes/takein_edit.html", form, act, takein=row)


@open_to(*EVERY_ROLE)
def takein_slip(request: HttpRequest, pk: int) -> HttpResponse:
    """Claim slip and board tag, to print."""
    row = get_object_or_404(TakeIn.objects.select_related("board", "brought_by"), pk=pk)
    try:
        pdf = slip.pdf(row, profile=request.shop)
    except PaperProblem as problem:
        messages.error(request, problem.sentence)
        return redirect("takein", pk=row.pk)
    return as_pdf(pdf, f"slip-{row.tag}.pdf")


@open_to(*SEES_MONEY)
def takein_back(request: HttpRequest, pk: int) -> HttpResponse:
    """The board goes home without work: asked once, then done."""
    row = get_object_or_404(TakeIn.objects.select_related("board", "brought_by"), pk=pk)
    form = ShedForm(sent(request), shop=request.shop)

    def act() -> str:
        quoting.hand_back(takein=row, by=request.user, at=timezone.now())
        return reverse("takein", args=[row.pk])

    return form_page(request, "quotes/takein_back.html", form, act, takein=row)


@open_to(*SEES_MONEY)
def damage_new(request: HttpRequest, takein: int) -> HttpResponse:
    row = get_object_or_404(TakeIn.objects.select_related("board").prefetch_related("damages"), pk=takein)
    form = DamageForm(sent(request), shop=request.shop, board=row.board)

    def act() -> str:
        damage = form.fill(Damage(takein=row))
        quoting.add_damage(takein=row, damage=damage, by=request.user, at=timezone.now())
        return reverse("takein", args=[row.pk])

    return form_page(request, "quotes/damage.html", form, act, takein=row, damages=row.damages.all())


@open_to(*SEES_MONEY)
def damage_edit(request: HttpRequest, pk: int) -> HttpResponse:
    damage = get_object_or_404(Damage.objects.select_related("takein__board"), pk=pk)
    row = damage.takein
    form = DamageForm(sent(request), shop=request.shop, board=row.board, initial=DamageForm.showing(damage))

    def act() -> str:
        quoting.edit_damage(damage=form.fill(damage), by=request.user, at=timezone.now())
        return reverse("takein", args=[row.pk])

    return form_page(request, "quotes/damage.html", form, act, takein=row, damages=row.damages.all(), damage=damage)


@open_to(*SEES_MONEY)
def damage_remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Takes a damage off that was marked by mistake."""
    damage = get_object_or_404(Damage.objects.select_related("takein__board"), pk=pk)
    form = ShedForm(sent(request), shop=request.shop)

    def act() -> str:
        quoting.remove_damage(damage=damage, by=request.user, at=timezone.now())
        return reverse("takein", args=[damage.takein_id])

    return form_page(request, "quotes/damage_remove.html", form, act, damage=damage, takein=damage.takein)

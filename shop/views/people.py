"""Customers and their boards."""

from __future__ import annotations

from urllib.parse import urlencode

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from shop.forms.people import BoardForm, CustomerForm, NewCustomerForm, PhotosForm, as_written, said_of
from shop.models import Board, Customer
from shop.people import customers as people
from shop.platform.acts import EVERY_ROLE, SEES_MONEY
from shop.web.access import open_to
from shop.web.page import Shown, act_page, form_page, sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import asked_for

ON_A_PAGE = 25


@open_to(*SEES_MONEY)
def customers(request: ShopRequest) -> HttpResponse:
    """Page of the customers, searched by words."""
    q = asked_for(request)
    book = Customer.objects.in_the_book().with_boards()
    found = book.search(q) if q else book
    page = Paginator(found, ON_A_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "q": q, "query": urlencode({"q": q}) if q else ""}
    return render(request, "shop/customers.html", context)


@open_to(*SEES_MONEY)
def customer(request: ShopRequest, pk: int) -> HttpResponse:
    """Page of a customer with the boards."""
    row = get_object_or_404(Customer, pk=pk)
    if row.merged_into_id:
        return redirect("customer", row.merged_into_id)
    context = {"customer": row, "boards": row.boards.all(), "merged": row.merged.all()}
    return render(request, "shop/customer.html", context)


@open_to(*SEES_MONEY)
def customer_new(request: ShopRequest) -> HttpResponse:
    """Page to add a customer."""
    form = NewCustomerForm(sent(request), shop=request.shop)

    def act() -> str:
        known = form.known()
        who = signed(request)
        if known is None:
            row = people.add_customer(signed=who, **form.entries())
            messages.success(request, "The customer is in the book.")
            return reverse("customer", args=[row.pk])
        completed = people.complete_customer(signed=who, customer=known, country=request.shop.country, **form.entries())
        messages.success(request, f"This is the record that was here already. {said_of(completed)}")
        return reverse("customer", args=[known.pk])

    return form_page(request, "shop/customer_new.html", form, act)


@open_to(*SEES_MONEY)
def customer_edit(request: ShopRequest, pk: int) -> HttpResponse:
    """Page to change a customer."""
    row = get_object_or_404(Customer, pk=pk)
    if row.merged_into_id:
        return redirect("customer-edit", row.merged_into_id)
    form = CustomerForm(sent(request), shop=request.shop, initial=CustomerForm.showing(row))

    def act() -> str:
        people.change_customer(signed=signed(request), customer=row, **form.entries())
        return reverse("customer", args=[row.pk])

    return form_page(request, "shop/customer_edit.html", form, act, says="Saved.", customer=row)


@open_to(*EVERY_ROLE)
def board(request: ShopRequest, pk: int) -> HttpResponse:
    """Page of a board with its sizes and photos."""
    row = get_object_or_404(Board.objects.select_related("owner"), pk=pk)
    named = (("Length", row.length_mm), ("Width", row.width_mm), ("Thickness", row.thickness_mm))
    ends = (("Nose, 12 in from the tip", row.nose_mm), ("Tail, 12 in from the end", row.tail_mm))
    context = {
        "board": row,
        "photos": row.photos.all(),
        "form": PhotosForm(shop=request.shop),
        "sizes": [{"words": words, "mm": mm, "written": as_written(mm)} for words, mm in (*named, *ends)],
        "drawing_words": f"{row.name}, {as_written(row.length_mm)} long, seen from the deck",
    }
    return render(request, "shop/board.html", context)


@open_to(*SEES_MONEY)
def board_new(request: ShopRequest, customer: int) -> HttpResponse:
    """Page to add a board to a customer."""
    owner = get_object_or_404(Customer.objects.select_related("merged_into"), pk=customer).current
    form = BoardForm(sent(request), shop=request.shop)

    def act() -> str:
        row = people.add_board(signed=signed(request), owner=owner, **form.entries())
        return reverse("board", args=[row.pk])

    return form_page(request, "shop/board_new.html", form, act, says="The board is in the book.", owner=owner)


@act_page(
    people.change_board, "shop/board_edit.html", rows=Board.objects.select_related("owner"), called="board",
    to=lambda board: reverse("board", args=[board.pk]), says="Saved.",
)  # fmt: skip
def board_edit(request: ShopRequest, board: Board) -> Shown:
    return {"form": BoardForm(sent(request), shop=request.shop, initial=BoardForm.showing(board))}

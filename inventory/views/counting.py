"""Counting a shelf on a phone: begin, line by line, what differs, and the yes."""

from __future__ import annotations

from decimal import Decimal
from itertools import groupby

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from inventory.counting import opening
from inventory.counting.counts import add_found, book_count, enter_line, explained, look_again, start_count
from inventory.counting.weighing import tares_of
from inventory.forms.counting import CountLineForm, CountStartForm, FoundOnShelfForm
from inventory.forms.opening import OpeningForm
from inventory.models import Container, Count, CountLine, Lot, Material
from shop.forms.fields import ShedForm
from shop.measures.money import stored
from shop.platform.acts import EVERY_ROLE, SEES_MONEY
from shop.web.access import open_to
from shop.web.page import ROWS, Shown, act_page, form_page, sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import asked_for


@act_page(start_count, "inventory/counts.html", to=lambda count: reverse("count", args=[count.pk]))
def counts(request: ShopRequest) -> Shown:
    """Rounds so far, and the beginning of another."""
    shelves = Lot.objects.left().order_by("material__shelf").values_list("material__shelf", flat=True).distinct()
    rows = Count.objects.select_related("started_by").with_progress()
    page = Paginator(rows.order_by("-pk"), ROWS).get_page(request.GET.get("page"))
    return {"form": CountStartForm(sent(request), shop=request.shop, shelves=list(shelves)), "page": page}


@open_to(*SEES_MONEY)
def opening_count(request: ShopRequest) -> HttpResponse:
    """All that nobody has counted yet, on one page."""
    asked = Material.objects.in_use().filter(not_tracked=False).with_counted()
    rows = asked.filter(is_counted=False)  # type: ignore[misc] # laid on by with_counted
    materials = list(rows.order_by("shelf", "kind", "name"))
    form = OpeningForm(sent(request), shop=request.shop, materials=materials, tares=tares_of(materials))

    def act() -> str:
        there, untracked = form.there(), form.untracked()
        opening.opening_count(there=there, untracked=untracked, signed=signed(request))
        left = len(form.materials) - len(there) - len(untracked)
        messages.success(request, f"{len(there)} counted; {left} still to count, whenever you like.")
        return reverse("store")

    return form_page(request, "inventory/opening.html", form, act)


def _lines(count: Count) -> list[CountLine]:
    lines = count.lines.select_related("material", "lot__pack", "lot__supplier", "count", "movement__reversed_by")
    return list(lines.order_by("pk"))


def _by_shelf(lines: list[CountLine]) -> list[tuple[str, int, list[CountLine]]]:
    """Each shelf with how many of its lines were counted, and its lines as they are gone along."""
    shelves = [(shelf, list(rows)) for shelf, rows in groupby(sorted(lines, key=_shelf), key=_shelf)]
    return [(shelf, sum(one.counted is not None for one in rows), rows) for shelf, rows in shelves]


def _shelf(line: CountLine) -> str:
    return line.material.shelf


@open_to(*EVERY_ROLE)
def count(request: ShopRequest, pk: int) -> HttpResponse:
    """Page of a count with its lines."""
    row = get_object_or_404(Count, pk=pk)
    lines = _lines(row)
    shown = not row.blind or row.closed_at is not None
    to_do = next((line for line in lines if line.counted is None), None)
    words = asked_for(request)
    context = {
        "q": words,
        "found": [line for line in lines if words.casefold() in line.material.name.casefold()],
        "shelves": _by_shelf(lines),
        "count": row,
        "lines": lines,
        "shown": shown,
        "next": to_do,
        "any": any(line.counted is not None for line in lines),
    }
    return render(request, "inventory/count.html", context)


@open_to(*EVERY_ROLE)
def count_line(request: ShopRequest, pk: int) -> HttpResponse:
    """Page of one line of a count."""
    rows = CountLine.objects.select_related("count", "material", "lot__pack", "lot__supplier")
    line = get_object_or_404(rows, pk=pk)
    containers = list(Container.objects.filter(lot=line.lot_id, emptied_at__isnull=True)) if line.lot_id else []
    for container in containers:
        assert line.lot is not None
        container.lot = line.lot
        line.lot.material = line.material
    form = CountLineForm(sent(request), shop=request.shop, line=line, containers=containers)

    def act() -> str:
        entries, who = form.cleaned_data, signed(request)
        enter_line(
            line=line,
            packs=entries.get("packs") or 0,
            loose=entries["loose"] or Decimal(0),
            gross_g=form.gross_g,
            happened_at=form.moment(who.at),
            signed=who,
        )
        to_do = line.count.lines.filter(counted__isnull=True).order_by("pk").first()
        return reverse("count-line", args=[to_do.pk]) if to_do else reverse("count", args=[line.count_id])

    context: Shown = {"line": line, "count": line.count, "number": line.count.lines.filter(pk__lte=line.pk).count()}
    context |= {"line_count": line.count.lines.count()}
    return form_page(request, "inventory/count_line.html", form, act, **context)


@act_page(
    add_found, "inventory/count_found.html", rows=Count, called="count",
    to=lambda line: reverse("count", args=[line.count_id]),
)  # fmt: skip
def count_found(request: ShopRequest, count: Count) -> Shown:
    materials = list(Material.objects.in_use().order_by("shelf", "name"))
    if not count.everything:
        materials.sort(key=lambda material: material.shelf != count.shelf)
    args = [sent(request)] if request.method == "POST" else []
    return {"form": FoundOnShelfForm(*args, shop=request.shop, materials=materials)}


@open_to(*EVERY_ROLE)
def count_result(request: ShopRequest, pk: int) -> HttpResponse:
    """What differs, with what may explain it; the counter says which of it is booked."""
    row = get_object_or_404(Count, pk=pk)
    lines = [line for line in _lines(row) if line.counted is not None]
    if row.closed_at is None:
        look_again(lines)
    words = explained(lines)
    for line in lines:
        line.worth = _worth(line)
        line.words = words[line.pk]
        line.booked = line.movement is not None and not hasattr(line.movement, "reversed_by")
    differing = [line for line in lines if line.difference]
    form = ShedForm(sent(request) if request.user.sees_money else None, shop=request.shop)

    def act() -> str:
        ticked = {int(key) for key in request.POST.getlist("line") if key.isdecimal()}
        booked = book_count(count=row, lines=ticked, signed=signed(request))
        messages.success(request, f"The count is closed; {len(booked)} of {len(differing)} differences booked.")
        return reverse("count-result", args=[row.pk])

    context: Shown = {"count": row, "lines": lines, "differing": differing}
    return form_page(request, "inventory/count_result.html", form, act, **context)


def _worth(line: CountLine) -> Decimal | None:
    """About what a difference is worth, at what the rest of its lot cost; None where nothing is left to tell it by."""
    if line.movement is not None:
        return line.movement.value
    if line.lot is None or not line.lot.quantity_left:
        return None
    return stored(line.lot.value_left * line.difference / line.lot.quantity_left)

"""Labels to print, what size they are, a label to try the printer with, and where a label's code leads."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from inventory import labels
from inventory.models import Container, Lot, Material
from shop.papers.paper import as_pdf
from shop.platform.acts import EVERY_ROLE
from shop.web.access import open_to
from shop.web.request import ShopRequest

SIZE = "label_size"  # in the session: each device remembers the roll in its printer
LEADS_TO = {"M": (Material, "material"), "L": (Lot, "lot"), "C": (Container, "weigh")}


def _size(request: ShopRequest) -> str:
    """The size that was picked on this device, or the usual one."""
    asked = request.GET.get("size", "")
    if asked in labels.SIZES:
        request.session[SIZE] = asked
    kept = request.session.get(SIZE)
    return kept if kept in labels.SIZES else labels.USUAL


@open_to(*EVERY_ROLE)
def label_choice(request: ShopRequest) -> HttpResponse:
    """Page to choose labels and their size."""
    names = Material.objects.in_use().order_by("shelf").values_list("shelf", flat=True).distinct()
    context = {
        "sizes": labels.SIZES.values(),
        "size": _size(request),
        "shelves": [(n or "-", n or "No shelf") for n in names],
    }
    return render(request, "inventory/labels.html", context)


@open_to(*EVERY_ROLE)
def label_test(request: ShopRequest) -> HttpResponse:
    """Trial sheet of labels as PDF."""
    return as_pdf(labels.trial(_size(request)), "label-test.pdf")


@open_to(*EVERY_ROLE)
def material_label(request: ShopRequest, pk: int) -> HttpResponse:
    """Label of a material as PDF."""
    material = get_object_or_404(Material, pk=pk)
    return as_pdf(labels.of_materials([material], _size(request)), f"label-{material.key}.pdf")


@open_to(*EVERY_ROLE)
def lot_label(request: ShopRequest, pk: int) -> HttpResponse:
    """Label of a lot as PDF."""
    lot = get_object_or_404(Lot.objects.select_related("material"), pk=pk)
    return as_pdf(labels.of_lot(lot, _size(request)), f"label-lot-{pk}.pdf")


@open_to(*EVERY_ROLE)
def container_label(request: ShopRequest, pk: int) -> HttpResponse:
    """Label of a container as PDF."""
    container = get_object_or_404(Container.objects.select_related("lot__material"), pk=pk)
    return as_pdf(labels.of_container(container, _size(request)), f"label-container-{pk}.pdf")


@open_to(*EVERY_ROLE)
def shelf_labels(request: ShopRequest) -> HttpResponse:
    """A label for everything that stands on a shelf."""
    shelf = request.GET.get("shelf", "")
    materials = Material.objects.in_use().filter(shelf="" if shelf == "-" else shelf).order_by("kind", "name")
    if not materials:
        messages.error(request, "Nothing stands on that shelf.")
        return render(request, "inventory/no_labels.html", status=404)
    return as_pdf(labels.of_materials(list(materials), _size(request)), "labels.pdf")


@open_to(*EVERY_ROLE)
def scanned(request: ShopRequest, code: str) -> HttpResponse:
    """What a label's code stands for: M7 is a material, L12 a lot, C3 a container and leads to the scale."""
    if code == "TEST":
        messages.success(request, "The code was read: the printer does well.")
        return redirect("labels")
    kind, number = code[:1], code[1:]
    if kind not in LEADS_TO or not (number.isascii() and number.isdigit() and len(number) < 19):
        raise Http404("No label carries this code.")
    model, page = LEADS_TO[kind]
    return redirect(reverse(page, args=[get_object_or_404(model, pk=int(number)).pk]))

"""Who did what: the journal, newest first."""

from __future__ import annotations

from urllib.parse import urlencode

from django.apps import apps
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import NoReverseMatch, reverse

from shop.models import JournalEntry, Role, User
from shop.web.access import open_to
from shop.web.request import ShopRequest
from shop.web.submission import asked_for

ON_A_PAGE = 25
OWN_PAGE = {  # kind of row: the name of its page, where the row's key alone leads to it
    "shop.customer": "customer",
    "shop.board": "board",
    "inventory.material": "material",
    "quotes.takein": "takein",
    "quotes.quote": "quote",
    "quotes.job": "job",
    "quotes.invoice": "invoice",
}


@open_to(Role.KEEPER)
def journal(request: ShopRequest) -> HttpResponse:
    """Page of the journal: who did what, and when."""
    wanted = {name: asked_for(request, name) for name in ("q", "about", "person")}
    entries = JournalEntry.objects.found(words=wanted["q"], about=wanted["about"], person=wanted["person"])
    page = Paginator(entries.select_related("by"), ON_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "rows": [{"entry": entry, "what": in_words(entry.about), "href": _page_of(entry.about)} for entry in page],
        "people": [(str(person.pk), person.name) for person in User.objects.order_by("name", "pk")],
        "about_words": in_words(wanted["about"]) if wanted["about"] else "",
        "query": urlencode({name: value for name, value in wanted.items() if value}),
        **wanted,
    }
    return render(request, "shop/journal.html", context)


def in_words(about: str) -> str:
    """`shop.board:7` as people say it: board 7."""
    label, _, key = about.partition(":")
    if label == "shop.profile":
        return "the shop"
    try:
        kind = str(apps.get_model(label)._meta.verbose_name)
    except (LookupError, ValueError):
        kind = label
    return f"{kind} {key}".strip()


def _page_of(about: str) -> str:
    label, _, key = about.partition(":")
    try:
        return reverse(OWN_PAGE[label], args=[int(key)]) if label in OWN_PAGE else ""
    except (NoReverseMatch, ValueError):
        return ""

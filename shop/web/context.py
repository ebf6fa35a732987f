"""What every page needs: the shop, the way around, and a fresh key for its form."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.urls import reverse

from shop.models import Role
from shop.platform.acts import EVERY_ROLE, SEES_MONEY
from shop.web.submission import new_key

# word, name of the first page, who sees it, paths that belong to it; on a phone those of LATER are under "More"
ROOMS = [
    ("Rack", "rack", EVERY_ROLE, ("/job", "/take-in", "/step", "/quick", "/day", "/today", "/week")),
    ("Quotes", "quotes", SEES_MONEY, ("/quotes", "/quote", "/way")),
    ("Store", "store", EVERY_ROLE, ("/store",)),
    ("Money", "money", SEES_MONEY, ("/money", "/invoice", "/payment")),
    ("People", "customers", SEES_MONEY, ("/people", "/board")),
    ("Recipes", "recipes", (Role.KEEPER,), ("/recipes", "/price-list", "/repricing")),
    ("Learned", "learned", (Role.KEEPER,), ("/learned",)),
    ("Shop", "shop", (Role.KEEPER,), ("/shop",)),
]
LATER = {"recipes", "learned", "shop"}  # rooms that are not of every day


def house(request: HttpRequest) -> dict[str, Any]:
    """The context of every page; asks the database nothing."""
    user = getattr(request, "user", None)
    role = user.role if user is not None and user.is_authenticated else None
    nav = [
        {
            "label": word,
            "href": reverse(name),
            "current": request.path == reverse(name) or any(request.path.startswith(p) for p in paths),
            "later": name in LATER,
        }
        for word, name, roles, paths in ROOMS
        if role in roles
    ]
    return {
        "shop": getattr(request, "shop", None),
        "nav": nav,
        "rooms_for_later": [room for room in nav if room["later"]],
        "sees_money": role in SEES_MONEY,
        "is_keeper": role == Role.KEEPER,
        "submission_key": request.POST.get("submission_key") or new_key(),
    }

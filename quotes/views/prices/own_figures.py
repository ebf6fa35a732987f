"""The figures the shop works by: the trade's, and its own in their place."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from quotes import experience
from quotes.costing.job.session_size import SessionSize
from quotes.costing.steps.sessions import FURTHER_SHARE, part_of_set_up
from quotes.forms.own_figures import OwnFigureForm
from quotes.recipes import own_figures
from quotes.recipes.own_figures import OwnFigure
from quotes.recipes.words import figure as in_words
from shop.forms.fields import ShedForm
from shop.models import Role
from shop.platform.acts import Refused
from shop.web.access import open_to
from shop.web.page import form_page, sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import asked_for, filled, said_or_done


@open_to(Role.KEEPER)
def figures(request: ShopRequest) -> HttpResponse:
    """All of them, or those whose words hold what is looked for; the shop's own first, the trade's in groups."""
    q = asked_for(request)
    found = [row for row in own_figures.figures_of(request.shop) if _holds(row, q)]
    rows = [_shown(row) for row in found]
    trade, own = ([row for row in rows if row["own"] is one] for one in (False, True))
    listed = [(name, [row for row in trade if row["group"] == name]) for name in own_figures.GROUPS]
    context = {
        "q": q,
        "own": own,
        "count": len(trade),
        "groups": [(name, held) for name, held in listed if held],
        "seen": [] if q else _all_seen(found),
    }
    return render(request, "quotes/figures.html", context)


def _all_seen(rows: Sequence[OwnFigure]) -> list[dict[str, object]]:
    """How many boards the bench shows together, beside each figure in use. Two queries."""
    further = next(row.value for row in rows if row.constant == FURTHER_SHARE)
    found = experience.boards_seen(timezone.now())
    return [_beside(row, found[row.constant.name], further) for row in rows if row.constant.name in found]


def _beside(row: OwnFigure, seen: SessionSize, further: float) -> dict[str, object]:
    """A figure in use and what was seen of it, with the percent of a set-up that a board bears by either."""
    now, then = (100 * part_of_set_up(boards, further) for boards in (row.value, seen.to_tenths[0]))
    shown = dict(zip(("value", "low", "high"), told(seen).split(), strict=True))
    return {
        "row": _shown(row),
        "used": f"{row.value:g}",
        **shown,
        "sessions": seen.sessions,
        "told": told(seen),
        "same": round(row.value, 1) == seen.to_tenths[0],
        "bears": f"{then:.0f}",
        "bears_now": f"{now:.0f}",
        "prices": "rise" if then > now else "fall",
    }


def told(seen: SessionSize) -> str:
    """What was shown of a figure, so that no other is taken over."""
    return " ".join(f"{one:g}" for one in seen.to_tenths)


def _holds(row: OwnFigure, words: str) -> bool:
    constant = row.constant
    said = f"{constant.words} {constant.name} {own_figures.group_of(constant)}".casefold()
    return all(word in said for word in words.casefold().split())


def _shown(row: OwnFigure) -> dict[str, object]:
    constant = row.constant
    return {
        "name": constant.name,
        "words": constant.words[:1].upper() + constant.words[1:],
        "own": row.own,
        "group": own_figures.group_of(constant),
        "value": in_words(row.value, constant.unit),
        "low": f"{row.low:g}",
        "high": in_words(row.high, constant.unit),
        "trade": in_words(constant.value, constant.unit),
        "trade_low": f"{constant.low:g}",
        "trade_high": in_words(constant.high, constant.unit),
        "source": constant.source,
    }


@open_to(Role.KEEPER)
def figure(request: ShopRequest, name: str) -> HttpResponse:
    """One figure: the shop's own value and range."""
    row = _named(request, name)
    form = OwnFigureForm(sent(request), figure=row, shop=request.shop)

    def act() -> str:
        own_figures.set_figure(name=name, **form.entries(), signed=signed(request))
        saved = "Saved. Drafts and recipes are priced with it; sent quotes stay as they are."
        messages.success(request, saved + held_against(timezone.now()))
        return reverse("figures")

    return form_page(request, "quotes/figure.html", form, act, row=_shown(row))


@open_to(Role.KEEPER)
@require_POST
def figure_seen(request: ShopRequest, name: str) -> HttpResponse:
    """What the shop's own bench shows becomes its figure, if it still is what was shown."""
    row = _named(request, name)

    def act() -> str:
        seen = experience.boards_seen(timezone.now()).get(name)
        if seen is None or request.POST.get("shown") != told(seen):
            raise Refused("What your bench shows is not what was shown here: look at it once more, then take it over.")
        value, low, high = seen.to_tenths
        own_figures.set_figure(name=name, value=value, low=low, high=high, signed=signed(request))
        taken = f"You work by {value:g} now for {row.constant.words}. Sent quotes stay as they are."
        messages.success(request, taken + held_against(timezone.now()))
        return reverse("figures")

    return said_or_done(request, act, reverse("figures"))


@open_to(Role.KEEPER)
@require_POST
def figure_leave(request: ShopRequest, name: str) -> HttpResponse:
    """The trade's figure again."""
    row = _named(request, name)

    def act() -> str:
        own_figures.leave_figure(name=name, signed=signed(request))
        messages.success(request, "The trade’s figure again." + held_against(timezone.now()))
        return reverse("figures")

    button = ShedForm(request.POST, shop=request.shop)
    if answer := filled(request, button, act):
        return answer
    form = OwnFigureForm(None, figure=row, shop=request.shop)
    return render(request, "quotes/figure.html", {"form": form, "refused": button, "row": _shown(row)}, status=422)


def held_against(at: datetime) -> str:
    """What the shop learned is worked out by the figures of now, and what is said of that."""
    if not experience.experience().learned_at:
        return ""
    if experience.learn_by_own_figures(at=at):
        return " What your finished jobs taught was worked out again by it."
    return " What your finished jobs taught is worked out by it tonight: until then it counts on top of that."


def _named(request: ShopRequest, name: str) -> OwnFigure:
    row = own_figures.figure_named(request.shop, name)
    if row is None:
        raise Http404("no such figure")
    return row

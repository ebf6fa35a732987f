"""What has moved: prices and rates, and with them the open quotes, the recipes and the wall price list."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from quotes import pricelist
from quotes.costing.basis.lazy_words import many
from quotes.estimating import shop_inputs
from quotes.forms.repricing import CompareForm
from quotes.models import PriceListPrint
from quotes.quoting import repricing
from quotes.views.prices.pricelist import shown_moves
from shop.forms.fields import ShedForm
from shop.platform.acts import SEES_MONEY
from shop.web.access import open_to
from shop.web.page import sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import filled

MONTH = timedelta(days=30)


@open_to(*SEES_MONEY)
def repricing_page(request: ShopRequest) -> HttpResponse:
    """Old and new price of everything open, and a button that works all drafts out again."""
    today = timezone.localdate()
    last = PriceListPrint.objects.first()
    usual = {"since": _since(last, today).isoformat(), "day": today.isoformat()}
    asked = CompareForm({name: request.GET.get(name) or usual[name] for name in usual}, shop=request.shop)
    since, day = asked.days(_since(last, today), today)
    form = ShedForm(sent(request), shop=request.shop)
    if answer := filled(request, form, lambda: _work_out(request, today)):
        return answer
    old, new = shop_inputs(day=since), shop_inputs(day=day)
    quotes = repricing.quote_moves(inputs=new)
    listed = pricelist.price_list(day=day, inputs=new)
    context = {
        "asked": asked,
        "form": form,
        "since": since,
        "day": day,
        "is_today": day == today,
        "inputs": repricing.what_moved(old, new),
        "quotes": [_shown(move) for move in quotes if move.do],
        "quiet": sum(1 for move in quotes if not move.do),
        "drafts": sum(1 for move in quotes if move.do == "work out"),
        "recipes": repricing.recipe_moves(old=old, new=new),
        "last": last,
        "moves": shown_moves(pricelist.moved(listed.said(), last.prices)) if last else [],
    }
    return render(request, "quotes/repricing.html", context, status=422 if form.is_bound else 200)


def _since(last: PriceListPrint | None, today: date) -> date:
    """The day of the last print of the wall list; a month ago while there is none."""
    return timezone.localtime(last.at).date() if last else today - MONTH


def _work_out(request: ShopRequest, today: date) -> str:
    moves = repricing.quote_moves(inputs=shop_inputs(day=today))
    drafts = [move.quote for move in moves if move.do == "work out"]
    done, refusals = repricing.work_out_drafts(quotes=drafts, signed=signed(request))
    messages.success(request, f"{many(len(done), 'draft')} worked out at today's prices.")
    for sentence in refusals:
        messages.warning(request, sentence)
    return reverse("repricing")


STATES = {"work out": "now", "fill in": "late", "replace": "late", "stays": "wait"}


def _shown(move: repricing.QuoteMove) -> dict[str, Any]:
    return {
        "quote": move.quote,
        "state": STATES[move.do],
        "advice": move.advice,
        "ways": [
            {
                "title": one.way.title,
                "tag": one.way.board.takein.tag,
                "old": one.old,
                "new": one.new,
                "by_hand": one.way.price_by_hand is not None,
                "then": one.earned_then,
                "now": one.earned_now,
                "problems": list(dict.fromkeys(one.problems)),
            }
            for one in move.ways
        ],
    }

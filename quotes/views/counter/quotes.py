"""Quotes.

The list, one quote with its ways side by side, the customer's view of it, its paper, and the answer to it.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode

from inventory.models import Material
from quotes import bench, quoting
from quotes.billing.two_thirds import goods_rate_of
from quotes.forms.quotes import AgreeForm, DeclineForm, QuoteForm
from quotes.models import Job, Quote, QuoteBoard, TakeIn, Way
from quotes.papers import quote as paper
from quotes.quoting.content import choices_of, repairs_of
from quotes.views.counter.quote_panel import board_row, plus_tax, tax_hint, touched_names
from quotes.views.quote_page import QuotedBoard, QuotedWay, QuotePage
from quotes.views.refused import refused_shown
from shop.forms.fields import ShedForm
from shop.measures.money import show_money
from shop.models import Profile, TaxRate
from shop.papers.paper import PaperProblem, as_pdf
from shop.platform.acts import SEES_MONEY, Refused
from shop.text.formats import day as day_words
from shop.text.formats import in_ten
from shop.web.access import open_to
from shop.web.page import Shown, act_page, form_page, sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import asked_for, filled

ON_A_PAGE = 25
SHOWN = {
    "open": ("Open", Quote.UNANSWERED),
    "agreed": ("Agreed", (Quote.State.AGREED,)),
    "declined": ("Declined", (Quote.State.DECLINED,)),
    "all": ("All", tuple(Quote.State.values)),
}
WITH_PAYER = Quote.objects.select_related("payer", "by", "replaces", "document").defer("document__pdf")


def to_quote(quote: Quote) -> str:
    return reverse("quote", args=[quote.pk])


@open_to(*SEES_MONEY)
def quotes(request: ShopRequest) -> HttpResponse:
    """What waits for an answer first; found by number, tag, name or board."""
    q = asked_for(request)
    show = request.GET.get("show", "open")
    show = show if show in SHOWN else "open"
    rows = Quote.objects.filter(state__in=SHOWN[show][1]).select_related("payer")
    rows = rows.defer("document__pdf").prefetch_related("boards__takein__board", "boards__ways")
    for word in q.split()[:8]:
        at = "boards__takein"
        rows = rows.filter(
            Q(number__icontains=word) | Q(payer__name__icontains=word) | Q(**{f"{at}__tag__iexact": word})
            | Q(**{f"{at}__board__name__icontains": word}) | Q(**{f"{at}__brought_by__name__icontains": word})
        )  # fmt: skip
    if q and show != "all" and not rows.exists():
        return redirect(f"{reverse('quotes')}?{urlencode({'q': q, 'show': 'all'})}")
    order = ("state", "valid_until", "pk") if show == "open" else ("-pk",)
    page = Paginator(rows.order_by(*order).distinct(), ON_A_PAGE).get_page(request.GET.get("page"))
    today = timezone.localdate()
    context = {
        "page": page,
        "rows": [_listed(row, today) for row in page],
        "q": q,
        "show": show,
        "shows": [(key, words) for key, (words, _) in SHOWN.items()],
        "query": urlencode({"q": q, "show": show} if q else {"show": show}),
    }
    return render(request, "quotes/quotes.html", context)


def _listed(quote: Quote, today: Any) -> dict[str, Any]:
    ways = [way for board in quote.boards.all() for way in board.ways.all()]
    prices = sorted({Decimal(way.totals["shown"]) for way in ways if way.totals.get("shown")})
    return {
        "quote": quote,
        "boards": [board.takein for board in quote.boards.all()],
        "ways": len(ways),
        "least": prices[0] if prices else None,
        "most": prices[-1] if len(prices) > 1 else None,
        "expired": quote.expired(today),
    }


@open_to(*SEES_MONEY)
def quote_new(request: ShopRequest, takein: int) -> HttpResponse:
    """A draft for a board that is here."""
    row = get_object_or_404(TakeIn.objects.select_related("brought_by", "payer", "board"), pk=takein)
    form = ShedForm(sent(request), shop=request.shop)

    def act() -> str:
        return to_quote(quoting.start_quote(takeins=[row], signed=signed(request)))

    return form_page(request, "quotes/quote_new.html", form, act, takein=row)


@open_to(*SEES_MONEY)
def quote(request: ShopRequest, pk: int) -> HttpResponse:
    return _quote_page(request, get_object_or_404(WITH_PAYER, pk=pk), ShedForm(shop=request.shop), 200)


def _quote_page(request: ShopRequest, row: Quote, form: ShedForm, status: int) -> HttpResponse:
    today = timezone.localdate()
    found = _boards(row)
    problems = [problem for board in found for way in board.ways.all() for problem in way.lacks]
    missing = quoting.missing_once(problems, today)
    pages = dict(Material.objects.values_list("key", "pk")) if missing.others else {}
    names, goods = touched_names(found), goods_rate_of(request.shop, TaxRate.objects.on(today))
    boards = [board_row(board, missing, pages, request.shop, names, goods) for board in found]
    page = _offers(row, boards, today, lacking=bool(problems), refused=bool(form.errors), shop=request.shop)
    rung = bench.last_rung(board.takein for board in found)
    for board, offered in zip(boards, page.boards, strict=True):
        board["rung"], board["offered"] = rung.get(board["takein"].pk), offered
        board["rows"] = list(zip(board["ways"], offered.way_actions, strict=True))
    ways = [shown for board in boards for shown in board["ways"]]
    context = {
        "quote": row,
        "form": form,
        "boards": boards,
        "several": len(boards) > 1,
        "ways": ways,
        "tax_hint": tax_hint(request.shop),
        "with_tax": plus_tax(request.shop),
        "together": next((quoting.set_ups_in_words(way.way) for way in ways if way.shown), ""),
        "page": page,
        "missing": missing,
        "sheet": reverse("quote-price-sheet", args=[row.pk]),
        "work_out": reverse("quote-work-out", args=[row.pk]),
    }
    return render(request, "quotes/quote.html", context, status=status)


def _offers(
    row: Quote, boards: list[dict[str, Any]], today: date, *, lacking: bool, refused: bool, shop: Profile
) -> QuotePage:
    """What may be done on the quote's page; `lacking` says that something stands between a way and its price."""
    newer = Quote.objects.filter(replaces=row).first() if row.state == Quote.State.REPLACED else None
    return QuotePage(
        quote=row.pk,
        state=row.state,
        boards=tuple(_offered(board, row.state) for board in boards),
        lacking=lacking,
        guesses=any(shown.guessed.on_guess for board in boards for shown in board["ways"]),
        no_papers=bool(shop.papers_lack),
        refused=refused,
        on_paper=row.document is not None,
        expired=row.expired(today),
        newer=(newer.pk, newer.version) if newer else None,
    )


def _offered(board: dict[str, Any], state: str) -> QuotedBoard:
    ways = [
        QuotedWay(shown.way.pk, shown.way.position, priced=bool(shown.shown), agreed=bool(shown.way.agreed_at))
        for shown in board["ways"]
    ]
    job = board["job"].pk if board["job"] else None
    return QuotedBoard(quoted=board["quoted"].pk, state=state, ways=tuple(ways), room=board["room"], job=job)


def _boards(row: Quote) -> list[QuoteBoard]:
    found = row.boards.select_related("takein__board", "takein__brought_by").prefetch_related(
        "takein__damages", "ways__parts__recipe_version", "ways__lines", "jobs"
    )
    return list(found)


@act_page(quoting.edit_quote, "quotes/quote_edit.html", rows=WITH_PAYER, called="quote", to=to_quote)
def quote_edit(request: ShopRequest, quote: Quote) -> Shown:
    """Who pays, and a word to the customer."""
    people = [quote.payer]
    for board in quote.boards.select_related("takein__brought_by", "takein__payer", "takein__board__owner"):
        people += filter(None, (board.takein.payer, board.takein.brought_by, board.takein.board.owner))
    payers, initial = list(dict.fromkeys(people)), QuoteForm.showing(quote)
    return {"form": QuoteForm(sent(request), shop=request.shop, payers=payers, initial=initial)}


@open_to(*SEES_MONEY)
def quote_board_new(request: ShopRequest, pk: int) -> HttpResponse:
    """One more board on the quote: those that are here, the same customer's first."""
    row = get_object_or_404(WITH_PAYER, pk=pk)
    here = TakeIn.objects.filter(gone_at__isnull=True, jobs__isnull=True).exclude(quoted__quote=row)
    theirs = Q(brought_by=row.payer) | Q(payer=row.payer) | Q(board__owner=row.payer)
    offered = list(here.filter(theirs).select_related("board", "brought_by").distinct()[:50])
    form = ShedForm(sent(request), shop=request.shop)

    def act() -> str:
        chosen = next((one for one in offered if str(one.pk) == request.POST.get("takein")), None)
        if chosen is None:
            raise Refused("Choose one of the boards that are here.")
        quoting.add_board(quote=row, takein=chosen, signed=signed(request))
        return to_quote(row)

    return form_page(request, "quotes/quote_board_new.html", form, act, quote=row, offered=offered)


@open_to(*SEES_MONEY)
def quote_customer(request: ShopRequest, pk: int) -> HttpResponse:
    """The screen turned to the customer: what the paper says, and nothing of the shop's own."""
    row = get_object_or_404(WITH_PAYER, pk=pk)
    content = row.document.content if row.document else quoting.content_of(row, on=timezone.localdate())
    return render(request, "quotes/quote_customer.html", {**paper.context(content), "pk": row.pk})


@open_to(*SEES_MONEY)
def quote_preview(request: ShopRequest, pk: int) -> HttpResponse:
    """The paper as it would go out, marked as a preview; nothing is numbered or kept."""
    row = get_object_or_404(WITH_PAYER, pk=pk)
    if row.document:
        return redirect("quote-pdf", pk=row.pk)
    try:
        return as_pdf(paper.pdf(quoting.content_of(row, on=timezone.localdate())), "preview.pdf")
    except PaperProblem as problem:
        messages.error(request, problem.sentence)
        return redirect("quote", pk=row.pk)


@open_to(*SEES_MONEY)
def quote_pdf(request: ShopRequest, pk: int) -> HttpResponse:
    """The paper that was sent: always the same bytes."""
    row = get_object_or_404(Quote.objects.select_related("document"), pk=pk, document__isnull=False)
    assert row.document is not None
    return as_pdf(bytes(row.document.pdf), row.document.name)


@open_to(*SEES_MONEY)
def quote_work_out(request: ShopRequest, pk: int) -> HttpResponse:
    """Every way at today's prices and days."""
    row = get_object_or_404(WITH_PAYER, pk=pk)
    if request.method != "POST":
        return redirect("quote", pk=row.pk)
    form = ShedForm(request.POST, shop=request.shop)

    def act() -> str:
        quoting.recompute(quote=row, signed=signed(request))
        return to_quote(row)

    return filled(request, form, act) or _quote_page(request, row, form, 422)


@open_to(*SEES_MONEY)
def quote_send(request: ShopRequest, pk: int) -> HttpResponse:
    """Numbered, frozen, ready to be printed or handed over."""
    row = get_object_or_404(WITH_PAYER, pk=pk)
    if request.method != "POST":
        return redirect("quote", pk=row.pk)
    form = ShedForm(request.POST, shop=request.shop)

    def act() -> str:
        quoting.send_quote(quote=row, signed=signed(request))
        return to_quote(row)

    answer = filled(request, form, act)
    if answer:
        messages.success(request, "It has its number and stays as it is. Open the paper to print it or hand it over.")
        return answer
    return _quote_page(request, WITH_PAYER.get(pk=row.pk), form, 422)


@act_page(quoting.decline_quote, "quotes/quote_decline.html", rows=WITH_PAYER, called="quote", to=to_quote)
def quote_decline(request: ShopRequest, quote: Quote) -> Shown:
    return {"form": DeclineForm(sent(request), shop=request.shop)}


@act_page(quoting.replace_quote, "quotes/quote_replace.html", rows=WITH_PAYER, called="quote", to=to_quote)
def quote_replace(request: ShopRequest, quote: Quote) -> Shown:
    """A new version under the same number."""
    return {"form": ShedForm(sent(request), shop=request.shop), "next_version": quote.version + 1}


def _refused(way: Way, request: ShopRequest) -> dict[str, Any]:
    """What must not be done to the board as it is now, with the steps it is about; nothing once it is agreed."""
    found = {} if way.agreed_at else quoting.refused_of_way(way)
    shown = refused_shown(found.values(), way.board.takein, request.user, quote=way.board.quote)
    return {**shown, "texts": list(found)} if shown else {}


def _to_choose(way: Way, shop: Profile) -> dict[int, str]:
    """The repairs that the customer may leave: key → name with its price beside the others."""
    told = [one for one in way.totals["damages"] if one["optional"]]
    prices = [show_money(Decimal(one["with_others"]), shop.currency, shop.locale) for one in told]
    return {one["part"]: f"{one['name']}, {price} with the others" for one, price in zip(told, prices, strict=True)}


def _promised(job: Job) -> str:
    """Which day was promised with the yes, and that the customer is told where it is not the one on the quote."""
    promise = job.promises.last()
    if promise is None:
        return "Agreed. No ready day is known: promise one by hand."
    chance = "" if promise.chance is None else f" ({in_ten(promise.chance)})"
    said = f"Agreed, promised for {day_words(promise.day)}{chance}."
    if promise.by_hand or job.way.ready_on in (None, promise.day):
        return said
    return f"{said} That is not the day on the quote, {day_words(job.way.ready_on)}: tell the customer."


@act_page(
    bench.accept_way, "quotes/way_agree.html",
    rows=Way.objects.select_related("board__quote__payer", "board__takein__board"), called="way",
    to=lambda job: reverse("job", args=[job.pk]), says=_promised,
)  # fmt: skip
def way_agree(request: ShopRequest, way: Way) -> Shown:
    """The customer's yes becomes a job."""
    repairs, found = repairs_of(way), choices_of(way)
    form = AgreeForm(
        sent(request), shop=request.shop, earlier=Job.objects.came_back_with(way.board.takein),
        to_choose=_to_choose(way, request.shop) if found else {}, said=way.ready_on,
        initial={"how": "at the counter", "promised_on": way.ready_on if way.ready_by_hand else None},
    )  # fmt: skip
    return {
        "form": form,
        "quote": way.board.quote,
        "tax_hint": tax_hint(request.shop),
        "shown": way.totals.get("shown"),
        "with_tax": plus_tax(request.shop),
        "row": {"repairs": [], "choices": paper.choices(repairs, found, every=True)},
        "refused": _refused(way, request),
    }

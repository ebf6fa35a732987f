"""What a customer may read of a quote, as plain data: the paper and the customer's screen are made from it and from
nothing else.

Invariant: no cost, no margin, no earning and no measure of the shop's own is in here. Frozen as the document's content
when the quote is sent; money is text, days are ISO.
"""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from quotes.costing.job.estimated import FELT
from quotes.models import Damage, Quote, QuoteBoard, Way
from quotes.quoting.several_boards import together
from quotes.totals import deposit_of
from shop.countries import tax
from shop.measures import units
from shop.models import Board, Customer, Profile

SCHEMA = 1


def content_of(quote: Quote, *, on: date, sent: bool = False) -> dict[str, Any]:
    """The quote as it would be sent on a day; what was sent is in the quote's document instead."""
    profile = Profile.objects.get()
    rules = tax.profile(profile.tax_profile)
    boards = list(
        quote.boards.select_related("takein__board", "takein__brought_by").prefetch_related(
            "takein__damages", "ways__lines", "ways__parts__recipe_version"
        )
    )
    shown = [_board(board, profile) for board in boards]
    return {
        "schema": SCHEMA,
        "document": "quote",
        "sent": sent,
        "number": quote.number,
        "version": quote.version,
        "made_on": on.isoformat(),
        "valid_until": (on + timedelta(days=profile.quote_days)).isoformat(),
        "currency": profile.currency,
        "locale": profile.locale,
        "paper": profile.paper,
        "seller": seller(profile, rules),
        "buyer": _party(quote.payer),
        "brought_by": _brought_by(quote, boards),
        "note": quote.note,
        "tax": {
            "word": rules.tax_word,
            "registered": rules.registered,
            "included": profile.prices_include_tax,
            "note": rules.note,
        },
        "boards": shown,
        "together": together(
            shown,
            currency=profile.currency,
            included=profile.prices_include_tax,
            tie=rules.tie,
            deposit_percent=profile.deposit_percent,
        ),
        "may_turn_up": [text for text in dict.fromkeys([profile.may_turn_up, *_may_turn_up(boards)]) if text],
        "deposit_percent": f"{profile.deposit_percent.normalize():f}",
        "terms": profile.terms,
    }


def seller(profile: Profile, rules: tax.TaxProfile) -> dict[str, str]:
    """Who sells, as it stands at the head of every paper about money."""
    own = ("name", "address", "country", "phone", "email", "website")
    return {
        **{name: getattr(profile, name) for name in own},
        "tax_number": profile.tax_number if rules.registered else "",
        "tax_words": rules.number_word,
    }


def _party(customer: Customer) -> dict[str, str]:
    return {name: getattr(customer, name) for name in ("name", "address", "phone", "email", "tax_number")}


def _brought_by(quote: Quote, boards: list[QuoteBoard]) -> str:
    """Who brought the boards, where that is not who pays."""
    names = dict.fromkeys(board.takein.brought_by.name for board in boards if board.takein.brought_by != quote.payer)
    return ", ".join(names)


def _board(quoted: QuoteBoard, profile: Profile) -> dict[str, Any]:
    board = quoted.takein.board
    return {
        "tag": quoted.takein.tag,
        "name": board.name,
        "maker": board.maker,
        "shape": _shape(board),
        "damages": [_damage(damage, profile) for damage in quoted.takein.damages.all()],
        "ways": [_way(way, profile) for way in quoted.ways.all()],
    }


def _shape(board: Board) -> dict[str, str | None]:
    sizes = ("length_mm", "width_mm", "nose_mm", "tail_mm")
    found = {name: getattr(board, name) for name in sizes}
    return {
        **{name: None if size is None else str(size) for name, size in found.items()},
        "tail_shape": board.tail_shape,
    }


def _damage(damage: Damage, profile: Profile) -> dict[str, Any]:
    return {
        "number": damage.number,
        "kind": damage.get_kind_display(),
        "side": damage.side,
        "side_words": damage.get_side_display(),
        "from_tail_mm": str(damage.from_tail_mm),
        "from_stringer_mm": str(damage.from_stringer_mm),
        "words": damage.words,
        "size": _size(damage, profile),
    }


def _size(damage: Damage, profile: Profile) -> str:
    """What was measured, in the one unit the shop's papers speak: 118 × 34 × 23 mm."""
    typed = [text for _, text in damage.sizes]
    if not typed:
        return ""
    lengths = [
        units.canonical_exact(units.read(text, dimension="length", default_unit="mm", kept=True), "length")
        for text in typed
    ]
    return units.show_sizes(lengths, profile.measures_in, locale=profile.locale)


def felt(grams: float, profile: Profile) -> bool:
    """Whether a rider may feel so much added weight, by the shop's own figure or the trade's."""
    own = profile.constants.get(FELT.name)
    return grams > float(own[0] if own else FELT.value)


def _way(way: Way, profile: Profile) -> dict[str, Any]:
    document = way.totals.get("document") or {}
    lines = way.totals.get("lines") or []
    layers, pocket = built(way)
    return {
        "position": way.position,
        "title": way.title,
        "words": way.words,
        "ready_on": way.ready_on.isoformat() if way.ready_on else None,
        "ready_by_hand": way.ready_by_hand,
        "grams": round(way.added_weight_g),
        "felt": felt(way.added_weight_g, profile),
        "shown": way.totals.get("shown"),
        "net": document.get("net"),
        "tax": document.get("tax"),
        "gross": document.get("gross"),
        "tax_rows": document.get("tax_rows", []),
        "deposit": _deposit(document.get("gross"), profile),
        "extras": [{"words": line["words"], "price": line["price"]} for line in lines if line["by_hand"]],
        "layers": layers,
        "pocket": pocket,
        "repairs": repairs_of(way),
        "choices": [{**one, "deposit": _deposit(one["gross"], profile)} for one in choices_of(way)],
    }


def _deposit(gross: str | None, profile: Profile) -> str | None:
    """What is asked on the yes; None where the shop asks for none, or nothing has a price yet."""
    if gross is None or not profile.deposit_percent:
        return None
    return str(deposit_of(Decimal(gross), profile.deposit_percent))


def repairs_of(way: Way) -> list[dict[str, Any]]:
    """What each repair of a way comes to with the others and alone; nothing where there is only one."""
    told = way.totals.get("damages") or []
    names = ("number", "name", "optional", "with_others", "alone")
    return [{name: one[name] for name in names} for one in told] if len(told) > 1 else []


def choices_of(way: Way) -> list[dict[str, Any]]:
    """Every choice of the repairs that may be left: their places among `repairs_of`, and the totals of its document."""
    order = [one["part"] for one in way.totals.get("damages") or ()]
    return [
        {
            "wanted": [order.index(key) for key in one["parts"]],
            "shown": one["shown"],
            **{name: one["document"][name] for name in ("net", "tax", "gross", "tax_rows")},
        }
        for one in way.totals.get("choices") or ()
    ]


def built(way: Way) -> tuple[int, bool]:
    """What a way builds, for its drawing: sheets of cloth, and whether a pocket is filled under them."""
    layers, pocket = 0, False
    for part in way.parts.all():
        done = {step.operation for step in part.estimate.steps}
        acts = [act for act in part.recipe_version.body["operations"] if act["operation"] in done]
        layers = max(layers, sum(len(act.get("settings", {}).get("plies", ())) for act in acts))
        pocket = pocket or bool(done & {"pour-foam", "fill", "install"})
    return layers, pocket


def _may_turn_up(boards: list[QuoteBoard]) -> list[str]:
    return [part.estimate.may_turn_up for board in boards for way in board.ways.all() for part in way.parts.all()]

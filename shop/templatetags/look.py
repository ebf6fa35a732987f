"""How figures, days, drawings and marks are shown. Nothing here works anything out: it formats and lays out.

`money`, `amount`, `quantity` and `number` speak the page's `locale` and `currency` where the context names them (a
frozen paper does), otherwise the shop's.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from babel.numbers import format_decimal, get_currency_symbol
from django import template
from django.forms import BoundField, DecimalField, FloatField
from django.templatetags.static import static
from django.utils.html import format_html
from django.utils.safestring import SafeString

from shop.measures import money, units
from shop.papers import drawings, sections
from shop.text.formats import NOTHING, clock, day, day_year, hands, moment

register = template.Library()

RACK_MM = 3050  # the length that a whole bar of the rack stands for, so that boards there are to scale
SIZES = {
    "rack": (300, RACK_MM, 9),
    "plan": (360, 0, 11),
    "step": (132, 0, 11),
    "paper": (200, 0, 7.5),
    "sheet": (360, 0, 10),
}


def _said(context: template.Context, name: str, otherwise: str) -> str:
    return str(context.get(name) or getattr(context.get("shop"), name, None) or otherwise)


def _decimal(value: Any) -> Decimal:
    return value if isinstance(value, Decimal) else Decimal(str(value))


@register.simple_tag(takes_context=True, name="money")
def money_tag(context: template.Context, value: Any, currency: str = "") -> str:
    """Money with its currency: €485.00. Nothing (None) is a dash."""
    if value in (None, ""):
        return NOTHING
    currency = currency or _said(context, "currency", "EUR")
    return money.show_money(_decimal(value), currency, _said(context, "locale", "en_IE"))


@register.simple_tag(takes_context=True)
def unit_price(context: template.Context, value: Any, currency: str = "") -> str:
    """What one gram or one metre costs: €0.1212, with up to four decimals."""
    if value in (None, ""):
        return NOTHING
    currency = currency or _said(context, "currency", "EUR")
    return money.show_price(_decimal(value), currency, _said(context, "locale", "en_IE"))


@register.simple_tag(takes_context=True)
def amount(context: template.Context, value: Any, currency: str = "") -> str:
    """Money for a column that names its currency elsewhere: 485.00, with the currency's own number of decimals."""
    if value in (None, ""):
        return NOTHING
    currency = currency or _said(context, "currency", "EUR")
    return number(context, money.round_money(_decimal(value), currency), money.minor_digits(currency))


@register.simple_tag(takes_context=True)
def quantity(context: template.Context, value: Any, unit: str, places: int | None = None) -> str:
    """A quantity with its unit: 28 g, 0.121 m². Nothing (None) is a dash."""
    if value in (None, ""):
        return NOTHING
    return units.show(value, unit, places=places, locale=_said(context, "locale", "en_IE"))


@register.simple_tag(takes_context=True)
def number(context: template.Context, value: Any, places: int | None = None) -> str:
    """A bare number: 13.5, at most three decimals, or exactly `places`."""
    if value in (None, ""):
        return NOTHING
    pattern = "#,##0.###" if places is None else "#,##0" + ("." + "0" * places if places else "")
    rounded = round(_decimal(value), 3 if places is None else places) + 0  # what rounds to nothing has no sign
    return format_decimal(rounded, format=pattern, locale=_said(context, "locale", "en_IE"))


@register.filter
def unit_sign(unit: str | None) -> str:
    """A unit as it is printed beside a box: m2 is m²."""
    return units.symbol(unit) if unit else ""


@register.filter
def currency_sign(currency: str | None) -> str:
    """Sign of a currency, € for EUR; "" without one."""
    return get_currency_symbol(currency, locale="en") if currency else ""


@register.filter
def box(field: BoundField) -> SafeString:
    """A field's box without the browser's own checks: nothing cut off, nothing refused before it is sent, and numbers
    as text with the right keypad, since type=number throws away what it cannot read."""
    widget = field.field.widget
    for attribute in ("maxlength", "minlength", "min", "max", "step", "placeholder"):
        widget.attrs.pop(attribute, None)
    field.form.use_required_attribute = False
    if getattr(widget, "input_type", "") == "number":
        widget.input_type = "text"
        widget.attrs.setdefault(
            "inputmode", "decimal" if isinstance(field.field, FloatField | DecimalField) else "numeric"
        )
    return SafeString(field)


for _format in (day, day_year, clock, moment, hands):
    register.filter(_format)


@register.simple_tag
def mark(name: str) -> SafeString:
    """One of our own line marks (see marks.svg); always beside a visible word."""
    return format_html(
        '<svg class="mark" aria-hidden="true" focusable="false"><use href="{}#{}"/></svg>',
        static("shop/marks.svg"),
        name,
    )


def _shape(board: Any) -> drawings.Shape:
    nose, tail = board.nose_mm, board.tail_mm
    return drawings.Shape.measured(
        float(board.length_mm),
        float(board.width_mm),
        float(nose) if nose else None,
        float(tail) if tail else None,
        board.tail_shape,
    )


@register.inclusion_tag("shed/drawing/board.svg")
def board(board: Any, damages: Iterable[Any] = (), size: str = "plan", words: str = "") -> dict[str, Any]:
    """A board on its side with a pin for each damage. `size`: rack (all to one scale), plan, step, sheet,
    paper.

    `words` is what a screen reader hears instead; empty hides the drawing from it (for where the words stand beside).
    """
    width, full_mm, radius = SIZES[size]
    drawn = drawings.plan(_shape(board), damages, units=width, full_mm=full_mm, radius=radius, resting=size == "rack")
    return {"plan": drawn, "size": size, "words": words}


@register.inclusion_tag("shed/drawing/place.html")
def place(
    board: Any, damages: Iterable[Any] = (), x: str = "", y: str = "", side: str = "",
    under: bool = False, pointed: drawings.Point | None = None,
) -> dict[str, Any]:  # fmt: skip
    """The board as something to point at: a tap fills the fields with the ids `x` (mm from the tail) and `y` (mm from
    the stringer, right is plus). With `side`, the name of a left/right choice, `y` gets no sign and the side is chosen.
    `under` shows the bottom; `pointed` is what was pointed at before, mm from the tail and from the stringer.
    """
    drawn = drawings.plan(_shape(board), damages, under=under)
    spot = pointed and (
        f"{float(drawn.tail_x) + pointed[0] * float(drawn.scale):.1f}",
        f"{float(drawn.middle_y) + pointed[1] * float(drawn.across):.1f}",
    )
    return {"plan": drawn, "x": x, "y": y, "side": side, "under": under, "pointed": spot}


@register.inclusion_tag("shed/drawing/layup.svg")
def layup(done: int, total: int, doing: bool = False, words: str = "") -> dict[str, Any]:
    """A job's progress as a laminate in cross-section: `done` steps of `total`, the next one under way if `doing`."""
    return {"layup": sections.layup(sections.stages(done, total, doing)), "words": words}


@register.inclusion_tag("shed/drawing/patch.svg")
def patch(layers: int, pocket: bool = False, words: str = "") -> dict[str, Any]:
    """What a way builds: sheets of cloth over the core, over a filled pocket if there is one."""
    return {"patch": sections.patch(layers, pocket), "words": words}


@register.inclusion_tag("shed/drawing/range.svg", takes_context=True)
def span(context: template.Context, figures: Iterable[float], flag: float, word: str = "price") -> dict[str, Any]:
    """A range as a bar: `figures` are the 10, 25, 50, 75 and 90 % points, `flag` stands for `word`."""
    low80, low50, middle, high50, high80 = (float(f) for f in figures)
    return {
        "range": sections.span(low80, low50, middle, high50, high80, float(flag)),
        "word": word,
        "words": f"half between {low50:g} and {high50:g}, eight in ten between {low80:g} and {high80:g}, "
        f"{word} {float(flag):g}",
    }

"""How figures and days are shown: never worked out, never half translated, a dash where there is nothing."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from types import SimpleNamespace
from zoneinfo import ZoneInfo

import pytest
from django.template import Context, Template
from django.utils import timezone

IRISH = SimpleNamespace(currency="EUR", locale="en_IE")


def shown(what: str, **context) -> str:
    context.setdefault("shop", IRISH)
    return Template("{% load look %}" + what).render(Context(context)).replace("\u00a0", " ").replace("\u202f", " ")


@pytest.mark.parametrize(
    ("what", "value", "text"),
    [
        ("{% money x %}", Decimal("485"), "€485.00"),
        ("{% money x %}", Decimal("-1234.5"), "-€1,234.50"),
        ("{% money x currency='USD' %}", "12", "US$12.00"),
        ("{% money x %}", None, "–"),
        ("{% amount x %}", Decimal("427.305"), "427.31"),
        ("{% amount x currency='JPY' %}", Decimal("1200"), "1,200"),
        ("{% unit_price x %}", Decimal("0.1212"), "€0.1212"),
        ("{% quantity x 'm2' %}", 0.12137, "0.121 m²"),
        ("{% quantity x 'g' places=1 %}", Decimal("28"), "28.0 g"),
        ("{% quantity x 'g' %}", None, "–"),
        ("{% number x %}", Decimal("13.500"), "13.5"),
        ("{% number x 0 %}", Decimal("-0.2"), "0"),
        ("{{ x|hands }}", 45, "45 min"),
        ("{{ x|hands }}", 500.4, "8 h 20"),
        ("{{ x|hands }}", 59.6, "1 h 00"),
        ("{{ x|hands }}", 0, "0 min"),
        ("{{ x|hands }}", None, "–"),
        ("{{ x|day }}", date(2026, 3, 3), "Tue 3 Mar"),
        ("{{ x|day_year }}", date(2026, 3, 3), "Tue 3 Mar 2026"),
        ("{{ x|day }}", None, "–"),
        ("{{ x|unit_sign }}", "m2", "m²"),
        ("{{ x|currency_sign }}", "EUR", "€"),
    ],
)
def test_a_figure_is_shown_as_the_shop_writes_it(what, value, text):
    assert shown(what, x=value) == text


def test_a_paper_keeps_the_currency_and_style_it_was_made_with():
    assert shown("{% money x %}", x=Decimal("1234.5"), currency="EUR", locale="de_DE") == "1.234,50 €"


def test_times_are_those_on_the_shops_wall():
    with timezone.override(ZoneInfo("Europe/Dublin")):  # an hour ahead of UTC in July
        moment = datetime(2026, 7, 1, 23, 30, tzinfo=UTC)
        assert shown("{{ x|clock }} {{ x|day }}", x=moment) == "00:30 Thu 2 Jul"
        assert shown("{{ x|moment }}", x=moment) == "Thu 2 Jul, 00:30"

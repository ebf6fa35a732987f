"""Forms of a job as a whole: its release, what is agreed anew, the day promised, its end."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from django import forms

from quotes.forms.bench import MINUTES_AT_MOST
from quotes.forms.quotes import AskingForm
from quotes.models import Way
from shop.forms.fields import MeasureField, MoneyFormField
from shop.forms.words import DayField, Laid, PageForm, PickField, WordsField
from shop.measures.money import show_money
from shop.models import Profile


class ReleaseForm(PageForm):
    """The release check: each line is ticked. One that is not is asked about: the reason why it is good as it is.

    `usual` are the minutes planned for it, empty where none are asked for.
    """

    button = "Ready to collect"
    numbered = {"checks": "reason_"}

    def __init__(self, sent: Any = None, *, lines: Sequence[str], usual: str, **kwargs: Any) -> None:
        self.lines = list(lines)
        fields: dict[str, forms.Field] = {}
        layout: list[Laid] = []
        for number, line in enumerate(self.lines):
            fields[f"ok_{number}"] = forms.BooleanField(label=line, required=False)
            layout.append(f"ok_{number}")
            if sent is not None and not sent.get(f"ok_{number}"):
                fields[f"reason_{number}"] = WordsField(label="Why it is good as it is", most=200, required=False)
                layout.append(f"reason_{number}")
        if usual:
            minutes = MeasureField(
                label="Minutes for the check", dimension="time", unit="min", high=MINUTES_AT_MOST, example="10",
                above_zero=True, width="middle", required=False,
                hint=f"Left empty, {usual} as planned; that teaches nothing.",
            )  # fmt: skip
            fields["minutes"], minutes.step = minutes, "1"
            layout.append("minutes")
        self.base_fields, self.layout = fields, tuple(layout)
        super().__init__(sent, **kwargs)

    def checks(self) -> list[dict[str, Any]]:
        data = self.cleaned_data
        return [
            {"line": line, "ok": bool(data.get(f"ok_{number}")), "reason": data.get(f"reason_{number}", "")}
            for number, line in enumerate(self.lines)
        ]


def _offered(ways: Iterable[Way], shop: Profile | None) -> list[tuple[str, str]]:
    """Ways to pick from, each with its price as the customer sees it."""
    assert shop is not None, "prices are shown in the shop's currency"
    told = [(way, Decimal(way.totals["shown"])) for way in ways]
    return [
        (str(way.pk), f"{way.title}, {show_money(price, shop.currency, shop.locale)}, {way.board.quote}")
        for way, price in told
    ]


class ExtraPriceForm(PageForm):
    """What turned up, priced: by hand, or by a way that was worked out for it."""

    words = WordsField(label="What it is called on the invoice", most=400, width="long")
    price = MoneyFormField(label="Price by hand", required=False, hint="As the customer sees it.")
    way = PickField(label="Or by a way worked out for it", choices=[], required=False, width="long")
    layout: tuple[Laid, ...] = ("words", "price", "way")
    button = "Price it"

    def __init__(self, *args: Any, ways: Sequence[Way], **kwargs: Any) -> None:
        if not ways:
            self.layout = ("words", "price")
        super().__init__(*args, **kwargs)
        self.ways = {str(way.pk): way for way in ways}
        self.field("way", PickField).choices = [("", "none, by hand"), *_offered(ways, self.shop)]
        if not ways:
            del self.fields["way"]

    def entries(self) -> dict[str, Any]:
        said = self.cleaned_data
        return {"words": said["words"], "price": said["price"], "way": self.ways.get(said.get("way", ""))}


class AnswerForm(PageForm):
    """The customer's answer, and how it came."""

    agreed = PickField(label="The answer", choices=[("yes", "Yes, do it"), ("no", "No")], radios=True)
    how = WordsField(label="How it came", most=200, width="long", hint="Like by phone, Tuesday 10:15.")
    button = "Keep the answer"

    def __init__(self, *args: Any, priced: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not priced:
            self.field("agreed", PickField).choices = [("no", "Nothing is done about it")]
            self.fields["agreed"].initial = "no"

    def entries(self) -> dict[str, Any]:
        return {"agreed": self.cleaned_data["agreed"] == "yes", "how": self.cleaned_data["how"]}


class AbsorbForm(PageForm):
    """Done at our cost."""

    reason = WordsField(label="Why at our cost", most=200, width="long", hint="Like: our router slipped.")
    button = "Do it at our cost"


class AnotherWayForm(PageForm):
    """Another way instead of the agreed one."""

    way = PickField(label="Which way", choices=[], radios=True)
    words = WordsField(label="Why", most=400, width="long", required=False, hint="What the bench found.")
    button = "Offer it"

    def __init__(self, *args: Any, ways: Sequence[Way], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.ways = {str(way.pk): way for way in ways}
        self.field("way", PickField).choices = _offered(ways, self.shop)

    def entries(self) -> dict[str, Any]:
        return {"way": self.ways[self.cleaned_data["way"]], "words": self.cleaned_data["words"]}


class PromiseForm(PageForm):
    """The job will be ready on another day than was promised."""

    day = DayField(label="Ready on")
    how = WordsField(label="How the customer was told", most=200, width="long", hint="Like by phone, Tuesday 10:15.")
    button = "Promise this day"


class StopForm(AskingForm):
    """The work is stopped after opening."""

    asks = {"below_cost": "Yes, below cost"}

    words = WordsField(label="Why it is stopped", most=400, width="long", hint="Like: water all through the foam.")
    amount = MoneyFormField(label="Charged for the work done", hint="As the customer sees it; 0 charges nothing.")
    how = WordsField(label="How the customer agreed", most=200, width="long", hint="Like by phone, Tuesday 10:15.")
    button = "Stop the work"

"""Entries about buying: what was ordered, and the shop's own rules for it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from inventory.buying.buy_list import BuyLine
from inventory.models import BuyingRules, Pack, Supplier
from shop.forms.fields import MoneyFormField, PercentFormField
from shop.forms.words import DayField, PageForm, PickField, WholeField


class OrderForm(PageForm):
    """How many packs of each line were ordered; a line left at 0 was not."""

    ordered_on = DayField(label="Ordered on")
    button = "I ordered this"

    def __init__(self, *args: Any, lines: Sequence[BuyLine], supplier: Supplier, today: date, **kwargs: Any) -> None:
        kwargs["initial"] = {"ordered_on": today}
        super().__init__(*args, **kwargs)
        self.lines = {f"packs_{line.pack.pk}": line for line in lines if line.pack is not None}
        for name, line in self.lines.items():
            assert line.pack is not None
            field = WholeField(
                label=f"{line.pack.words}, {line.material.name}",
                low=0,
                high=9999,
                width="tiny",
                hint=f"{line.packs} on the list. 0 if not ordered.",
            )
            field.initial, field.after = str(line.packs), "packs"
            self.fields[name] = field
        self.order_fields([*self.lines, "ordered_on"])

    @property
    def packs(self) -> dict[Pack, int]:
        """Number of packs ordered, by pack."""
        return {line.pack: self.cleaned_data[name] for name, line in self.lines.items() if line.pack is not None}


class RulesForm(PageForm):
    """Form of the rules that the buy list goes by."""

    order_cost = MoneyFormField(
        label="What one order costs, goods apart", above_zero=True, hint="Your time and the share of freight.",
    )  # fmt: skip
    holding_percent = PercentFormField(
        label="What keeping stock costs in a year, in % of its price", low=0, high=200,
        hint="Money tied up, room, and what spoils.",
    )  # fmt: skip
    service_percent = PickField(
        label="Of 100 deliveries, how many come before the shelf runs empty", choices=BuyingRules.SERVICE, radios=True,
        hint="A higher figure means a larger reserve.",
    )  # fmt: skip
    look_ahead_days = WholeField(
        label="Days between two looks at the list",
        low=1,
        high=60,
        width="tiny",
        hint="What falls due until then is listed.",
    )
    most_weeks = WholeField(
        label="Weeks of usual use to order at once, at most",
        low=1,
        high=104,
        width="tiny",
        hint="Cheap things would otherwise be ordered for years. What is new is not ordered for longer than it was there.",
    )

    def __init__(self, *args: Any, rules: BuyingRules, **kwargs: Any) -> None:
        kwargs["initial"] = {
            "order_cost": f"{rules.order_cost.normalize():f}",
            "holding_percent": f"{rules.holding_percent.normalize():f}",
            "service_percent": str(rules.service_percent),
            "look_ahead_days": str(rules.look_ahead_days),
            "most_weeks": str(rules.most_weeks),
        }
        super().__init__(*args, **kwargs)

    def entries(self) -> dict[str, Any]:
        entries = self.cleaned_data
        return {"rules": BuyingRules(**{**entries, "service_percent": int(entries["service_percent"])})}

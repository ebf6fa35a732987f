"""What would it take: a wanted earning per hour, or a wanted chance of loss."""

from __future__ import annotations

from typing import Any

from shop.forms.fields import MoneyFormField, PercentFormField, ShedForm


class WantedForm(ShedForm):
    """Both may be left empty."""

    all_optional = True
    earning = MoneyFormField(label="An hour should earn", required=False, above_zero=True)
    chance = PercentFormField(label="Chance of loss at most", required=False, low=1, high=99)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.field("chance", PercentFormField).after = "%"

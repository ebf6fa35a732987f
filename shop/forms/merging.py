"""Which entries are kept where two records of one person are made one."""

from __future__ import annotations

from typing import Any

from shop.forms.people import ENTRY_WORDS
from shop.forms.words import PageForm, PickField
from shop.models import Customer
from shop.people.merging import CHOSEN, both_notes


class MakeOneForm(PageForm):
    """A choice for each entry in which the two records differ; where one of them says nothing, the other's is kept."""

    button = "Make them one"
    KEPT, GONE = "kept", "gone"

    def __init__(self, *args: Any, kept: Customer, gone: Customer, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.records = {self.KEPT: kept, self.GONE: gone}
        for name in CHOSEN:
            said = {key: in_words(row, name) for key, row in self.records.items()}
            if all(said.values()) and said[self.KEPT] != said[self.GONE]:
                self.fields[name] = PickField(
                    label=ENTRY_WORDS[name].capitalize(), choices=list(said.items()), radios=True, initial=self.KEPT
                )
                self.fields[name].error_messages["required"] = (
                    f"{ENTRY_WORDS[name].capitalize()}: choose one of the two."
                )

    def settled(self) -> list[dict[str, str]]:
        """What is kept without a choice, as the page shows it: the note of each, and what only one says or both say."""
        kept, gone = self.records.values()
        plain = [(name, in_words(kept, name) or in_words(gone, name)) for name in CHOSEN if name not in self.fields]
        said = [*plain, ("note", both_notes(kept, gone))]
        return [{"label": ENTRY_WORDS[name].capitalize(), "words": words} for name, words in said if words]

    def entries(self) -> dict[str, Any]:
        """The entries of the record that stays, as `shop.people.merging.make_one` takes them."""
        return {name: getattr(self._row_of(name), name) for name in CHOSEN}

    def _row_of(self, name: str) -> Customer:
        if name in self.fields:
            return self.records[self.cleaned_data[name]]
        kept, gone = self.records.values()
        return kept if in_words(kept, name) else gone


def in_words(customer: Customer, name: str) -> str:
    """An entry as the page shows it."""
    if name == "kind":
        return str(customer.get_kind_display())
    if name == "discount_percent":
        return f"{customer.discount_percent.normalize():f} %"
    return str(getattr(customer, name)).strip()

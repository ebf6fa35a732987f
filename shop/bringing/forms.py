"""A list of people and boards from a file, and which of its columns holds what."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from shop.bringing.lists import ENTRIES, MOST_LINES, table_of
from shop.forms.words import PageForm, PickField
from shop.models import PeopleList
from shop.text.tables import NotATable, as_text

MOST_BYTES = 2_000_000
SAMPLE = 24  # signs of a column's first cell, shown beside its name


class PeopleListForm(PageForm):
    """Form that takes a list of people as a CSV file."""

    file = forms.FileField(
        label="List of people",
        help_text=f"A CSV file with one person on each line, up to {MOST_LINES} lines and 2 MB.",
        widget=forms.ClearableFileInput({"accept": ".csv,.tsv,.txt,text/csv,text/plain"}),
        error_messages={"required": "List of people is empty; choose a CSV file.", "empty": "The file is empty."},
    )
    button = "Look at it"
    layout = ("file",)

    def clean_file(self) -> str:
        """The text of the file; its name is in `name`."""
        file = self.cleaned_data["file"]
        self.name = str(file.name)[:120]
        if file.size > MOST_BYTES:
            raise ValidationError("The file is larger than 2 MB; keep only the columns about people and boards.")
        try:
            return as_text(file.read())
        except NotATable as problem:
            raise ValidationError(problem.sentence) from None

    def entries(self) -> dict[str, Any]:
        return {"name": self.name, "text": self.cleaned_data["file"]}


class ColumnsForm(PageForm):
    """For each entry the column that holds it, as guessed by its heading until somebody says otherwise."""

    headed = forms.BooleanField(label="The first line holds the headings, not a person", required=False)

    def __init__(self, *args: Any, people_list: PeopleList, **kwargs: Any) -> None:
        names, table = table_of(people_list)
        first = table.rows[0].cells if table.rows else ()
        samples = [cell.replace("\n", " ")[:SAMPLE] for cell in first] + [""] * (len(names) - len(first))
        columns = [
            (str(n), f"{name[:40]}, like {sample}" if sample else name[:40])
            for n, (name, sample) in enumerate(zip(names, samples, strict=False))
        ]
        kwargs["initial"] = {"headed": people_list.headed, **{e: str(n) for e, n in people_list.columns.items()}}
        super().__init__(*args, **kwargs)
        for entry, (label, _) in ENTRIES.items():
            self.fields[entry] = PickField(
                label=label, choices=[("", "not in the list"), *columns], required=entry == "name", width="long"
            )
        self.fields["name"].error_messages["required"] = "Name is not matched: choose the column that holds it."
        self.order_fields([*ENTRIES, "headed"])

    def clean(self) -> dict[str, Any]:
        """Entries, refused where one column is chosen twice."""
        entries = super().clean() or self.cleaned_data
        taken: dict[str, str] = {}
        for entry, (label, _) in ENTRIES.items():
            chosen = entries.get(entry)
            if chosen and chosen in taken:
                self.add_error(entry, f"{label}: this column is {taken[chosen]} already; choose another one.")
            elif chosen:
                taken[chosen] = label
        return entries

    @property
    def columns(self) -> dict[str, int]:
        """Number of the column that was chosen for each entry."""
        return {entry: int(self.cleaned_data[entry]) for entry in ENTRIES if self.cleaned_data[entry]}

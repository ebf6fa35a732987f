"""Customers and boards from a list the shop already has: seen line by line before any of it counts, then all at once.

Whoever is known already is not made again, so the same list twice makes nobody twice. Known is who has the same name
and phone, or the same mail; without phone and mail it is the name alone, of somebody without either.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Model

from shop.forms.fields import MeasureField
from shop.forms.people import BoardForm, CustomerForm
from shop.models import Board, Customer, PeopleList, Profile
from shop.people.customers import new_board
from shop.platform.acts import SEES_MONEY, Refused, Signed, action, checked
from shop.text.phones import same_phone, tail
from shop.text.tables import Table, TableRow, read_table
from shop.text.writing import folded

MOST_LINES = 5_000  # a shop of two hands knows fewer people
MOST_CELLS = 100
FORMULA = ("=", "@")

# Each entry that a column may hold: what it is called, and headings that mean it. Headings: common practice, no source.
ENTRIES = {
    "name": (
        "Name",
        "name, customer, customer name, full name, family name, last name, surname, nachname, nom, apellido",
    ),
    "first_name": ("First name", "first name, firstname, given name, forename, vorname, prenom, nombre"),
    "phone": ("Phone", "phone, telephone, tel, mobile, cell, phone number, mobile number, telefon, handy, telefono"),
    "email": ("Email", "email, e-mail, mail, email address, e-mail address"),
    "address": ("Address", "address, street, street address, adresse, strasse, direccion"),
    "postcode": ("Post code", "postcode, post code, zip, zip code, postal code, plz, eircode"),
    "town": ("Town", "town, city, place, ort, ville, ciudad"),
    "tax_number": ("Tax number", "tax number, vat number, vat no, tax id, abn"),
    "note": ("Note on the person", "note, notes, remark, remarks, comment, comments"),
    "board_name": ("Board: what it is called", "board, boards, surfboard, board name, model"),
    "maker": ("Board: maker or shaper", "maker, shaper, board maker, brand"),
    "length_mm": ("Board: length", "length, board length"),
    "width_mm": ("Board: width", "width, board width"),
    "thickness_mm": ("Board: thickness", "thickness, board thickness"),
    "fins": ("Board: fins", "fins, fin setup"),
    "board_note": ("Board: note", "board note, board notes"),
}
BOARD = ("board_name", "maker", "length_mm", "width_mm", "thickness_mm", "fins", "board_note")


@dataclass
class Person:
    """Somebody in the book or of the list; `row` is written once the list is taken over."""

    row: Customer
    line: int = 0  # 0: in the book already
    boards: set[tuple[str, str]] = field(default_factory=set)


@dataclass
class PersonLine:
    """What would become of one line. `wrong` says why something of it cannot be taken, `odd` what to look at."""

    number: int
    words: str
    person: Person | None = None
    is_new: bool = False
    board: Board | None = None
    board_known: bool = False
    wrong: list[str] = field(default_factory=list)
    odd: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class ImportPlan:
    """All that a list would make, all that is known, and all of it that cannot be taken."""

    lines: list[PersonLine]
    left_out: list[str]  # headings of columns that hold no entry
    empty: int
    problem: str

    @property
    def new(self) -> list[PersonLine]:
        """Lines of people that are not in the book yet."""
        return [line for line in self.lines if line.is_new]

    @property
    def known(self) -> list[PersonLine]:
        """Lines of people that are in the book already."""
        return [line for line in self.lines if line.person is not None and not line.is_new]

    @property
    def wrong(self) -> list[PersonLine]:
        """Lines that cannot be taken."""
        return [line for line in self.lines if line.wrong]

    @property
    def odd(self) -> list[PersonLine]:
        """Lines that are taken, with something to look at."""
        return [line for line in self.lines if line.odd]

    @property
    def boards(self) -> list[PersonLine]:
        """Lines that bring a board."""
        return [line for line in self.lines if line.board is not None]

    @property
    def boards_known(self) -> int:
        """Number of boards that are in the book already."""
        return sum(line.board_known for line in self.lines)


# --- columns ----------------------------------------------------------------------------------------------------------


def guess_columns(headings: tuple[str, ...]) -> dict[str, int]:
    """Which column holds which entry, by its heading; what is not plain is left out."""
    found: dict[str, int] = {}
    for number, heading in enumerate(headings):
        said = " ".join("".join(c if c.isalnum() or c == "-" else " " for c in folded(heading)).split())
        entry = next((e for e, (_, known) in ENTRIES.items() if said in known.split(", ") and e not in found), None)
        if entry is not None:
            found[entry] = number
    return found


def table_of(people_list: PeopleList) -> tuple[tuple[str, ...], Table]:
    """The names of the columns, and the table without the line that names them."""
    table = read_table(people_list.text)
    width = max((len(row.cells) for row in table.rows), default=0)
    first = table.rows[0].cells if table.rows else ()
    if not people_list.headed:
        return tuple(f"Column {n + 1}" for n in range(width)), table
    names = tuple((first[n] if n < len(first) else "") or f"Column {n + 1}" for n in range(width))
    return names, Table(table.rows[1:], table.empty, table.problem)


@action("peoplelist.keep", *SEES_MONEY)
def keep_people(*, name: str, text: str, signed: Signed) -> PeopleList:
    """Keep a list to look at, its columns guessed. Nobody is made yet. Raises Refused where it is no list of people."""
    rows = read_table(text).rows
    if not rows:
        raise Refused("The file holds no line; send a table with one person on each line.", field="file")
    if len(rows) > MOST_LINES:
        raise Refused(
            f"The file has {len(rows)} lines; {MOST_LINES} is the most that is read at once. Send it in parts.",
            field="file",
        )
    if max(len(row.cells) for row in rows) > MOST_CELLS:
        raise Refused(
            f"A line has more than {MOST_CELLS} cells; keep only the columns about people and boards.", field="file"
        )
    columns = guess_columns(rows[0].cells)
    row = PeopleList(name=name, text=text, columns=columns, headed=bool(columns), by=signed.by, made_at=signed.at)
    checked(row).save()
    signed.record(row, "Looked at a list of people")
    return row


@action("peoplelist.match", *SEES_MONEY)
def match_columns(*, people_list: PeopleList, columns: Mapping[str, int], headed: bool, signed: Signed) -> PeopleList:
    """The list with its columns as somebody said. Raises Refused once it was taken over."""
    row = _open(people_list)
    row.columns, row.headed = dict(columns), headed
    row.save(update_fields=["columns", "headed"])
    signed.record(row, "Said what the columns of a list hold")
    return row


# --- what each line would make ----------------------------------------------------------------------------------------


class Book:
    """Everybody known, to be asked line by line. Two queries, however many there are."""

    def __init__(self, country: str) -> None:
        self.country = country
        self.by_mail: dict[str, Person] = {}
        self.by_name: dict[str, list[Person]] = defaultdict(list)
        self.by_tail: dict[str, list[Person]] = defaultdict(list)
        people = {row.pk: Person(row) for row in Customer.objects.in_the_book().filter(walk_in=False).order_by("pk")}
        for board in Board.objects.filter(owner__merged_into=None, owner__walk_in=False).only(
            "owner", "name", "length_mm"
        ):
            people[board.owner_id].boards.add(_mark(board))
        for person in people.values():
            self.add(person)

    def add(self, person: Person) -> None:
        """Add a person, to be found by name, phone and email."""
        row = person.row
        self.by_name[folded(row.name)].append(person)
        self.by_tail[tail(row.phone)].append(person)
        if row.email:
            self.by_mail.setdefault(row.email.casefold(), person)

    def same(self, row: Customer) -> Person | None:
        """Who is meant: same mail, or same name and phone, or same name where neither side has phone or mail."""
        if row.email and (found := self.by_mail.get(row.email.casefold())):
            return found
        alike = self.by_name[folded(row.name)]
        if tail(row.phone):
            return next((one for one in alike if same_phone(one.row.phone, row.phone, country=self.country)), None)
        return next((one for one in alike if _bare(one.row)), None) if _bare(row) else None

    def doubts(self, row: Customer) -> str:
        """What to look at where somebody new is much like somebody known."""
        if tail(row.phone):
            for one in self.by_tail[tail(row.phone)]:
                if same_phone(one.row.phone, row.phone, country=self.country):
                    return f"Has the phone of {one.row.name}; taken as somebody else."
        if self.by_name[folded(row.name)]:
            return "Somebody of this name is known, with another phone or mail; taken as somebody else."
        return ""


def _bare(row: Customer) -> bool:
    return not (tail(row.phone) or row.email)


def _mark(board: Board) -> tuple[str, str]:
    return folded(board.name), f"{board.length_mm.normalize():f}"


def plan(people_list: PeopleList) -> ImportPlan:
    """What the list would make of everybody in it. Three queries, however long it is."""
    names, table = table_of(people_list)
    columns = {entry: n for entry, n in people_list.columns.items() if entry in ENTRIES and 0 <= n < len(names)}
    book = Book(Profile.objects.values_list("country", flat=True).get())
    lines = [_planned(row, columns, book, len(names)) for row in table.rows]
    used = set(columns.values())
    return ImportPlan(lines, [name for n, name in enumerate(names) if n not in used], table.empty, table.problem)


def _planned(row: TableRow, columns: Mapping[str, int], book: Book, width: int) -> PersonLine:
    said = {entry: row.cells[n] if n < len(row.cells) else "" for entry, n in columns.items()}
    name = " ".join(filter(None, [said.get("first_name", ""), said.get("name", "")]))
    line = PersonLine(row.line, name or ", ".join(filter(None, row.cells))[:80])
    line.odd += [
        f"{text[:20]} begins like a formula; taken as plain words." for text in said.values() if text[:1] in FORMULA
    ]
    customer = _customer(line, name, said)
    if customer is None:
        return line
    _find_person(line, customer, book)
    if any(said.get(entry) for entry in BOARD):
        _find_board(line, said)
    return line


def _customer(line: PersonLine, name: str, said: Mapping[str, str]) -> Customer | None:
    town = " ".join(filter(None, [said.get("postcode", ""), said.get("town", "")]))
    entries = {
        "name": name, "address": "\n".join(filter(None, [said.get("address", ""), town])),
        **{entry: said.get(entry, "") for entry in ("phone", "email", "tax_number", "note")},
    }  # fmt: skip
    read = {entry: _read(line, CustomerForm, entry, text) for entry, text in entries.items()}
    return None if line.wrong else Customer(**read)


def _find_person(line: PersonLine, customer: Customer, book: Book) -> None:
    known = book.same(customer)
    if known is not None:
        line.person = known
        if folded(known.row.name) != folded(customer.name):
            line.odd.append(f"Has the mail of {known.row.name}; taken as the same person.")
        return
    if doubt := book.doubts(customer):
        line.odd.append(doubt)
    line.person, line.is_new = Person(customer, line.number), True
    book.add(line.person)


def _find_board(line: PersonLine, said: Mapping[str, str]) -> None:
    assert line.person is not None
    wrong_before = len(line.wrong)
    sizes = {
        entry: _read(line, BoardForm, entry, said.get(entry, "")) for entry in ("length_mm", "width_mm", "thickness_mm")
    }
    words = {entry: said.get(entry, "") for entry in ("maker", "fins")}
    words |= {"name": said.get("board_name") or said.get("length_mm", ""), "note": said.get("board_note", "")}
    read = {entry: _read(line, BoardForm, entry, text) for entry, text in words.items()}
    if len(line.wrong) == wrong_before:
        try:
            board = new_board(line.person.row, **read, **sizes)
        except Refused as problem:
            line.wrong += problem.messages
        else:
            line.board_known = _mark(board) in line.person.boards
            line.board = None if line.board_known else board
            line.person.boards.add(_mark(board))
    if len(line.wrong) > wrong_before:
        line.wrong[wrong_before:] = [f"The board is not taken. {sentence}" for sentence in line.wrong[wrong_before:]]


def _read(line: PersonLine, form: Any, entry: str, text: str) -> Any:
    """The cell as the form of the same entry would read it; what it cannot take stands in `wrong`."""
    box = form.base_fields[entry]
    try:
        value = box.clean(text)
    except ValidationError as problem:
        line.wrong += [
            f"{box.label} is empty." if one.code == "required" else str(one.message) for one in problem.error_list
        ]
        return None
    if isinstance(box, MeasureField) and box.odd(value):
        line.wrong.append(
            f"{box.label} of {text[:20]} is unusual; write it with its unit, like {text[:20]} mm or {box.example}."
        )
    return value


# --- taking over ------------------------------------------------------------------------------------------------------


@action("peoplelist.take", *SEES_MONEY)
def take_people(*, people_list: PeopleList, signed: Signed) -> PeopleList:
    """Everybody and every board that the list makes, at once. Raises Refused when it was taken, or makes nobody."""
    row = _open(people_list)
    found = plan(row)
    people = [line.person.row for line in found.new if line.person]
    boards = [line.board for line in found.boards if line.board]
    if not people and not boards:
        raise Refused("There is nobody in this list who is not known already, and no new board.")
    for one in people:
        one.make_findable()
    Customer.objects.bulk_create(people)
    for board in boards:
        board.owner = board.owner  # its key is known now
    Board.objects.bulk_create(boards)
    row.taken_at, row.made = (
        signed.at,
        {"people": len(people), "boards": len(boards), "known": len(found.known), "wrong": len(found.wrong)},
    )
    row.save(update_fields=["taken_at", "made"])
    words = f"Brought {len(people)} people and {len(boards)} boards from a list"
    details = {"people": _keys(people), "boards": _keys(boards)}
    signed.record(row, words, details=details)
    return row


def _keys(rows: list[Any]) -> list[int]:
    return [row.pk for row in rows if isinstance(row, Model)]


def _open(people_list: PeopleList) -> PeopleList:
    row = PeopleList.objects.select_for_update().get(pk=people_list.pk)
    if row.taken_at is not None:
        raise Refused("This list was taken over already.")
    return row

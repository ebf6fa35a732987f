"""A list of people and boards is seen line by line before it counts; nobody is made twice, nothing dropped unsaid."""

from __future__ import annotations

from decimal import Decimal as D

import pytest
from django.core.exceptions import PermissionDenied
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shop.bringing.forms import MOST_BYTES
from shop.bringing.lists import MOST_LINES, guess_columns, keep_people, match_columns, plan, take_people
from shop.models import Board, Customer, JournalEntry, PeopleList
from shop.platform.acts import Refused, Signed
from tests.conftest import NOW
from tests.reading import says
from tests.shop import rows

LIST = (
    "First name;Surname;Mobile;E-mail;Street;Postcode;Town;Board;Maker;Length;Width;Star sign\n"
    "Aoife;Marlin;020 910 0611;aoife@marlin.example;3 Sea Road;P31;Testport;White fish;a friend;5'6\";20 3/4 in;Leo\n"
    "Aoife;Marlin;+353 20 910 0611;;;;;Egg;;7'0\";21 in;\n"
    ";Tomás Garvane;;;;;;;;;;\n"
    "\n"
    ";Tomás Garvane;;;;;;;;;;\n"
    "Zoe;Reef;;zoe@reef.example;;;;;;1830 mm;510 mm;\n"
)


def kept(by, text=LIST) -> PeopleList:
    return keep_people(name="people.csv", text=text, signed=Signed(by, NOW))


def told(lines) -> list[tuple[int, str]]:
    return [(line.number, " ".join(line.wrong)) for line in lines]


def test_columns_are_guessed_by_their_headings():
    assert guess_columns(("Surname", "FIRST NAME", "Tel.", "E-Mail", "Board", "Größe", "", "Surname")) == {
        "name": 0, "first_name": 1, "phone": 2, "email": 3, "board_name": 4,
    }  # fmt: skip
    assert guess_columns(("Aoife Marlin", "020 910 0611")) == {}


def test_a_list_is_seen_and_nothing_counts_before_the_yes(counter):
    people_list = kept(counter)
    seen = plan(people_list)
    assert [line.words for line in seen.new] == ["Aoife Marlin", "Tomás Garvane", "Zoe Reef"]
    assert [(line.number, line.person.line) for line in seen.known] == [(3, 2), (6, 4)]
    assert [line.board.name for line in seen.boards] == ["White fish", "Egg", "1830 mm"]
    assert (seen.left_out, seen.empty, seen.wrong, seen.odd, seen.problem) == (["Star sign"], 1, [], [], "")
    assert not Customer.objects.exists()
    take_people(people_list=people_list, signed=Signed(counter, NOW))
    aoife = Customer.objects.get(phone="020 910 0611")
    assert (aoife.name, aoife.email, aoife.address) == (
        "Aoife Marlin",
        "aoife@marlin.example",
        "3 Sea Road\nP31 Testport",
    )
    assert Customer.objects.search("0611").get() == Customer.objects.search("aoife").get() == aoife  # can be found
    assert {(board.name, board.maker, board.length_mm) for board in aoife.boards.all()} == {
        ("White fish", "a friend", D("1676.4")), ("Egg", "", D("2133.6")),
    }  # fmt: skip
    entry = JournalEntry.objects.first()
    assert entry.words == "Brought 3 people and 3 boards from a list"
    assert sorted(entry.details["people"]) == sorted(Customer.objects.values_list("pk", flat=True))
    assert "Aoife" not in entry.words + str(entry.details)


def test_the_same_file_twice_makes_nobody_twice(counter):
    take_people(people_list=kept(counter), signed=Signed(counter, NOW))
    again = kept(counter)
    seen = plan(again)
    assert (seen.new, seen.boards, seen.boards_known, len(seen.known)) == ([], [], 3, 5)
    with pytest.raises(Refused, match="nobody in this list"):
        take_people(people_list=again, signed=Signed(counter, NOW))
    with pytest.raises(Refused, match="already"):
        take_people(people_list=PeopleList.objects.last(), signed=Signed(counter, NOW))
    assert (Customer.objects.count(), Board.objects.count()) == (3, 3)


def test_a_known_person_is_left_as_they_are_and_gets_the_board(counter):
    niamh = rows.customer(counter, "Niamh Ó Sé", phone="+353 20 910 0144", email="niamh@strand.example")
    rows.board(counter, niamh)  # 5′6″ fish
    text = (
        "name,phone,email,board,length,width\nniamh o se,020 910 0144,,5′6″ fish,5'6\",20 3/4 in\n"
        "N.,,NIAMH@strand.example,Gun,7'2\",19 in\n"
    )
    people_list = kept(counter, text)
    seen = plan(people_list)
    assert ([line.person.row for line in seen.known], seen.boards_known) == ([niamh, niamh], 1)
    assert [line.odd for line in seen.odd] == [["Has the mail of Niamh Ó Sé; taken as the same person."]]
    take_people(people_list=people_list, signed=Signed(counter, NOW))
    assert Customer.objects.get().name == "Niamh Ó Sé"
    assert Board.objects.first().name == "Gun"


def test_who_is_only_alike_is_made_and_pointed_out(counter):
    rows.customer(counter, "Niamh Ó Sé", phone="+353 20 910 0144")
    text = "name;phone;email\nTom Ó Sé;020 910 0144;\nNiamh Ó Sé;020 910 0999;\nNiamh Ó Sé;;\n"
    seen = plan(kept(counter, text))
    assert [(line.is_new, line.odd) for line in seen.lines] == [
        (True, ["Has the phone of Niamh Ó Sé; taken as somebody else."]),
        (True, ["Somebody of this name is known, with another phone or mail; taken as somebody else."]),
        (True, ["Somebody of this name is known, with another phone or mail; taken as somebody else."]),
    ]
    take_people(people_list=PeopleList.objects.first(), signed=Signed(counter, NOW))
    assert plan(kept(counter, text)).new == []


def test_a_line_that_can_not_be_taken_says_why(counter):
    text = (
        "name;phone;email;board;length;width;thickness\n"
        ";020 910 0611;;;;;\n"  # 2
        "Bad Mail;;mail at home;;;;\n"  # 3
        f"{'x' * 121};;;;;;\n"  # 4
        "No Width;;;Fish;5'6\";;\n"  # 5
        "Bare Mm;;;Fish;1676;527 mm;\n"  # 6
        "Mixed Up;;;Fish;20 in;66 in;\n"  # 7
        "Words;;;Fish;long;20 in;\n"  # 8
        "Thick;;;Fish;66 in;20 in;9 m\n"  # 9
    )
    seen = plan(kept(counter, text))
    said = dict(told(seen.wrong))
    assert sorted(said) == list(range(2, 10))
    assert said[2] == "Name is empty."
    assert said[3] == "Email must be like name@place.example."
    assert said[4] == "Name has 121 characters; 120 is the most that can be kept."
    assert said[5] == "The board is not taken. Width is empty; write a length, like 20 3/4 in."
    assert said[6].startswith("The board is not taken. Length of 1676 is unusual; write it with its unit")
    assert all(said[n].startswith("The board is not taken. ") for n in range(5, 10))
    assert [line.number for line in seen.new] == [5, 6, 7, 8, 9]  # the person comes all the same
    take_people(people_list=PeopleList.objects.first(), signed=Signed(counter, NOW))
    assert (Customer.objects.count(), Board.objects.count()) == (5, 0)


def test_a_formula_is_plain_words_everywhere(counter, counter_client):
    people_list = kept(counter, "name,note\n=HYPERLINK(1),@SUM(A1)\n<script>alert(1)</script>,x\n")
    assert plan(people_list).odd[0].odd[0] == "=HYPERLINK(1) begins like a formula; taken as plain words."
    page = says(counter_client.get(reverse("people-bring", args=[people_list.pk])))
    assert "<script>alert" not in page
    take_people(people_list=people_list, signed=Signed(counter, NOW))
    assert Customer.objects.filter(name="=HYPERLINK(1)", note="@SUM(A1)").exists()


def test_a_list_without_headings_is_matched_by_hand(counter):
    people_list = kept(counter, "Aoife Marlin,020 910 0611\nTom Reef,020 910 0612\n")
    assert (people_list.headed, people_list.columns) == (False, {})
    match_columns(people_list=people_list, columns={"name": 0, "phone": 1}, headed=False, signed=Signed(counter, NOW))
    assert [line.words for line in plan(PeopleList.objects.get()).new] == ["Aoife Marlin", "Tom Reef"]


def test_an_open_quote_is_said(counter):
    seen = plan(kept(counter, 'name,note\nTom,x\n"Zoe,y\n'))
    assert seen.problem.startswith("From line 3 on")


@pytest.mark.parametrize(
    ("text", "words"),
    [("\n\n", "no line"), ("name\n" + "A\n" * MOST_LINES, f"{MOST_LINES} is the most"), (";" * 200 + "x", "100 cells")],
)
def test_what_is_no_list_of_people_is_refused(counter, text, words):
    with pytest.raises(Refused, match=words):
        kept(counter, text)
    assert not PeopleList.objects.exists()


def test_the_bench_brings_nobody(counter, bench):
    with pytest.raises(PermissionDenied):
        kept(bench)
    with pytest.raises(PermissionDenied):
        take_people(people_list=kept(counter), signed=Signed(bench, NOW))


def test_many_are_looked_at_with_as_many_queries_as_few(counter):
    def asked(text: str) -> int:
        people_list = kept(counter, text)
        with CaptureQueriesContext(connection) as seen:
            plan(people_list)
        return len(seen)

    head = "name;phone;board;length;width\n"
    few = asked(head + "One;020 910 0001;Fish;66 in;20 in\n")
    many = head + "".join(f"Person {n};020 91{n:05};Fish;66 in;20 in\n" for n in range(400))
    assert asked(many) == few == 3
    take_people(people_list=PeopleList.objects.first(), signed=Signed(counter, NOW))
    assert Customer.objects.count() == Board.objects.count() == 400


# --- the pages --------------------------------------------------------------------------------------------------------


def send(client, form_key, data: bytes, name="people.csv"):
    file = SimpleUploadedFile(name, data)
    return client.post(reverse("people-bring-new"), {"file": file, "submission_key": form_key()})


def columns_of(people_list, form_key, **changed):
    chosen = {entry: str(n) for entry, n in people_list.columns.items()}
    return {**chosen, "headed": "on", "submission_key": form_key(), **changed}


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_from_file_to_people_on_the_screen(counter_client, form_key, encoding):
    answer = send(counter_client, form_key, LIST.encode(encoding))
    people_list = PeopleList.objects.get()
    assert answer.url == reverse("people-bring", args=[people_list.pk])
    page = says(counter_client.get(answer.url))
    for words in ("Bring 3 people, 3 boards", "Star sign", "Tomás Garvane", "the same person as on line 2"):
        assert words in page
    sent = columns_of(people_list, form_key, take="1")
    first, second = (counter_client.post(answer.url, sent) for _ in range(2))
    assert first.url == second.url == answer.url
    assert Customer.objects.count() == 3
    page = says(counter_client.get(answer.url))
    assert "3 people and 3 boards were made" in page
    assert 'name="take"' not in page
    late = counter_client.post(answer.url, columns_of(people_list, form_key, take="1"))
    assert late.status_code == 422


def test_other_columns_are_looked_at_before_anybody_is_made(counter_client, counter, form_key):
    people_list = kept(counter)
    where = reverse("people-bring", args=[people_list.pk])
    counter_client.post(where, columns_of(people_list, form_key, note="11", take="1"))
    assert not Customer.objects.exists()
    page = says(counter_client.get(where))
    assert "Look at it, then bring them." in page
    people_list.refresh_from_db()
    assert people_list.columns["note"] == 11
    counter_client.post(where, columns_of(people_list, form_key, take="1"))
    assert Customer.objects.get(name="Aoife Marlin").note == "Leo"


@pytest.mark.parametrize(
    ("changed", "field"), [({"name": ""}, "name"), ({"name": "99"}, "name"), ({"phone": "1"}, "phone")]
)
def test_columns_that_can_not_be_are_said_beside_their_box(counter_client, counter, form_key, changed, field):
    people_list = kept(counter)
    answer = counter_client.post(
        reverse("people-bring", args=[people_list.pk]), columns_of(people_list, form_key, **changed)
    )
    assert answer.status_code == 422
    assert f'id="id_{field}_error"' in says(answer)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"PK\x03\x04", "workbook"),
        (b"\0\0\0\0", "no text"),
        (b"n" * (MOST_BYTES + 1), "larger than 2 MB"),
    ],
)
def test_a_file_that_is_no_list_is_refused_with_a_sentence(counter_client, form_key, data, words):
    answer = send(counter_client, form_key, data)
    assert answer.status_code == 422
    assert words in says(answer)
    assert not PeopleList.objects.exists()

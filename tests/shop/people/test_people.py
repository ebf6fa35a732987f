"""Customers and boards as the counter meets them, and photos as a phone sends them."""

from __future__ import annotations

import io
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image

from shop.forms.people import as_written
from shop.measures import units
from shop.models import Board, Customer, JournalEntry, Photo, Submission
from shop.papers import paper
from shop.people import pictures
from tests.shop import rows

D = Decimal
ODDITIES = [
    "Niamh 🏄‍♀️ Ó Sé",
    "مريم الشاطئ",
    "<script>alert(1)</script>",
    "<b>bold</b> & 'quoted'",
]
FISH = {
    "name": "5′6″ fish",
    "length_mm": "5'6\"",
    "width_mm": "20 3/4 in",
    "thickness_mm": "2 1/2",
    "nose_mm": "15 in",
    "tail_mm": "406 mm",
    "tail_shape": "fish",
    "core": "pu",
    "resin": "polyester",
    "skin": "glass",
}


@pytest.fixture
def niamh(counter):
    return rows.customer(counter, "Niamh Ó Sé", phone="+353 86 910 0144", email="niamh@strand.example")


@pytest.fixture
def fish(counter, niamh):
    return rows.board(counter, niamh)


def add_board(client, owner, form_key, **changed):
    return client.post(reverse("board-new", args=[owner.pk]), {**FISH, "submission_key": form_key(), **changed})


# --- customers --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "typed", ["niamh", "NIAMH", "o se", "Ó Sé", "niamh sé", "086 910 0144", "+353 86 9100144", "9100", "strand.example"]
)
def test_a_customer_is_found_by_whatever_is_remembered(counter_client, niamh, counter, typed):
    rows.customer(counter, "Tomás O’Hara", phone="020 555 0199")
    html = counter_client.get("/people/", {"q": typed}).content.decode()
    assert "Niamh Ó Sé" in html
    assert "Tomás" not in html


def test_an_apostrophe_does_not_hide_anybody(counter):
    rows.customer(counter, "Tomás O’Hara")
    assert Customer.objects.search("tomas ohara").count() == Customer.objects.search("O'Hara").count() == 1


@pytest.mark.parametrize("typed", ["\0", "%", "_", "'; DROP TABLE", "9" * 5000, "🏄"])
def test_a_strange_search_finds_nobody_and_breaks_nothing(counter_client, niamh, typed):
    answer = counter_client.get("/people/", {"q": typed})
    assert answer.status_code == 200


@pytest.mark.parametrize("name", ODDITIES)
def test_a_name_may_be_in_any_writing_and_is_never_markup(counter_client, form_key, name):
    entries = {"name": name, "kind": "private", "note": name, "submission_key": form_key()}
    answer = counter_client.post("/people/new/", entries)
    assert Customer.objects.get().name == name
    html = counter_client.get(answer.url).content.decode()
    assert "<script>alert" not in html
    assert "<b>bold" not in html


def test_a_mark_that_turns_writing_round_is_left_out_of_a_name(counter_client, form_key):
    entries = {"name": "\u202eturned round", "kind": "private", "submission_key": form_key()}
    counter_client.post("/people/new/", entries)
    assert Customer.objects.get().name == "turned round"


def test_a_double_tap_makes_one_customer(counter_client, form_key):
    entries = {"name": "Saoirse", "kind": "private", "submission_key": form_key()}
    first, second = (counter_client.post("/people/new/", entries) for _ in range(2))
    assert first.url == second.url
    assert Customer.objects.count() == Submission.objects.count() == 1


def test_the_same_key_with_other_entries_is_said_not_swallowed(counter_client, form_key):
    key = form_key()
    counter_client.post("/people/new/", {"name": "Saoirse", "kind": "private", "submission_key": key})
    other = counter_client.post("/people/new/", {"name": "Eoin", "kind": "private", "submission_key": key})
    assert other.status_code == 422
    assert "already sent with other entries" in other.content.decode()
    assert Customer.objects.count() == 1


def test_a_form_without_a_key_is_refused_with_its_entries(counter_client, profile):
    answer = counter_client.post("/people/new/", {"name": "Saoirse", "kind": "private"})
    assert answer.status_code == 422
    assert 'value="Saoirse"' in answer.content.decode()


def test_a_name_too_long_to_keep_is_said(counter_client, form_key):
    entries = {"name": "x" * 121, "kind": "private", "submission_key": form_key()}
    html = counter_client.post("/people/new/", entries).content.decode()
    assert "Name has 121 characters; 120 is the most that can be kept." in html


def test_the_journal_tells_of_a_change_without_the_customers_data(counter_client, niamh, form_key):
    entries = {"name": "Niamh Brennock", "kind": "trade", "phone": "1", "submission_key": form_key()}
    counter_client.post(reverse("customer-edit", args=[niamh.pk]), entries)
    entry = JournalEntry.objects.first()
    assert entry.words == "Changed a customer"
    assert {"name", "kind", "phone"} <= set(entry.details["changed"])
    assert "Brennock" not in str(entry.details)


def test_who_stands_for_people_without_a_name_is_not_changed(counter_client, counter, form_key):
    walk_in = Customer.objects.create(name="Walk-in", walk_in=True)
    entries = {"name": "Somebody", "kind": "private", "submission_key": form_key()}
    assert counter_client.post(reverse("customer-edit", args=[walk_in.pk]), entries).status_code == 422


def test_the_list_asks_as_often_for_many_as_for_few(counter_client, counter):
    def asked() -> int:
        with CaptureQueriesContext(
            connection,
        ) as seen:
            counter_client.get("/people/")
        return len(seen)

    rows.customer(counter, "One")
    few = asked()
    Customer.objects.bulk_create(Customer(name=f"Customer {n}", name_folded=f"customer {n}") for n in range(200))
    assert asked() == few <= 8


# --- boards -----------------------------------------------------------------------------------------------------------


def test_sizes_are_read_as_board_people_write_them(counter_client, niamh, form_key):
    add_board(counter_client, niamh, form_key)
    board = Board.objects.get()
    # 66 in, 20.75 in, 2.5 in and 15 in of 25.4 mm, to a tenth
    assert (board.length_mm, board.width_mm) == (D("1676.4"), D("527.1"))
    assert (board.thickness_mm, board.nose_mm, board.tail_mm) == (D("63.5"), D("381"), D("406"))


@pytest.mark.parametrize(
    ("mm", "words"),
    [("1676.4", "5′6″"), ("527.1", "20 3/4 in"), ("63.5", "2 1/2 in"), ("1828.8", "6′"), ("1689.1", "5′6 1/2″"),
     ("1680", "1680 mm"), ("3.2", "1/8 in")],
)  # fmt: skip
def test_a_size_is_shown_so_that_it_reads_back_as_the_same(mm, words):
    assert as_written(D(mm)) == words
    read = units.canonical_exact(units.read(words, dimension="length"), "length")
    assert read.quantize(D("0.1"), "ROUND_HALF_UP") == D(mm)


def test_changing_nothing_changes_nothing(counter_client, niamh, form_key):
    add_board(counter_client, niamh, form_key)
    before = Board.objects.values().get()
    page = reverse("board-edit", args=[before["id"]])
    shown = {
        **FISH,
        **{k: as_written(before[k]) for k in ("length_mm", "width_mm", "thickness_mm", "nose_mm", "tail_mm")},
    }
    assert counter_client.post(page, {**shown, "submission_key": form_key()}).status_code == 302
    assert Board.objects.values().get() == before
    assert not JournalEntry.objects.filter(verb="board.change").exists()


def test_an_odd_size_is_asked_about_once_then_taken(counter_client, niamh, form_key):
    asked = add_board(counter_client, niamh, form_key, width_mm="1 m")
    html = asked.content.decode()
    assert asked.status_code == 422
    assert "Yes, it is really 1 m" in html
    assert not Board.objects.exists()
    assert add_board(counter_client, niamh, form_key, width_mm="1 m", odd_width_mm="on").status_code == 302
    assert Board.objects.get().width_mm == D(1000)


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"length_mm": "20 kg"}, "Length must be"),
        ({"length_mm": "-5 ft"}, "Length must not be below zero"),
        ({"length_mm": "9**9**9 m"}, "cannot be read"),
        ({"length_mm": "0"}, "must be above zero"),
        ({"length_mm": ""}, "Length is empty"),
        ({"tail_mm": "22 in"}, "Tail width must not be more than the board&#x27;s width"),
        ({"length_mm": "20 in", "odd_length_mm": "on"}, "Are the two mixed up?"),
        ({"core": "cheese"}, "Core: pick one of those offered."),
    ],
)
def test_a_size_that_can_not_be_is_said_and_nothing_stored(counter_client, niamh, form_key, changed, says):
    answer = add_board(counter_client, niamh, form_key, **changed)
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert not Board.objects.exists()


def test_the_bench_sees_the_board_but_not_how_to_reach_its_owner(bench_client, fish):
    html = bench_client.get(reverse("board", args=[fish.pk])).content.decode()
    assert "5′6″ fish" in html
    assert "910 0144" not in html
    assert bench_client.get(reverse("customer", args=[fish.owner_id])).status_code == 403


# --- photos -----------------------------------------------------------------------------------------------------------


def from_a_phone(width=3000, height=2000, *, turned=6, kind="JPEG") -> bytes:
    """A picture lying on its side, with a place, a maker, a comment and a preview in it.

    Left half red, right half blue.
    """
    picture = Image.new("RGB", (width, height), "blue")
    picture.paste("red", (0, 0, width // 2, height))
    exif = Image.Exif()
    exif[0x0112], exif[0x010F] = turned, "PhoneMaker"
    exif.get_ifd(0x8825)[1], exif.get_ifd(0x8825)[2] = "N", (53.0, 20.0, 30.0)
    out = io.BytesIO()
    picture.save(out, kind, exif=exif, **({"comment": b"at home"} if kind == "JPEG" else {}))
    return out.getvalue()


def send(client, board, form_key, *files: bytes, key=None):
    pictures_sent = [SimpleUploadedFile("IMG.jpg", file, "image/jpeg") for file in files]
    return client.post(
        reverse("photo-add", args=[board.pk]), {"pictures": pictures_sent, "submission_key": key or form_key()}
    )


def test_a_photo_is_kept_upright_small_and_without_its_place(bench_client, fish, form_key):
    assert send(bench_client, fish, form_key, from_a_phone()).status_code == 302
    data = Photo.objects.get().image.read()
    with Image.open(io.BytesIO(data)) as kept:
        assert kept.format == "JPEG"
        # 3000 × 2000 turned a quarter clockwise (EXIF orientation 6) stands 2:3, its red left half on top
        assert kept.size == (1067, 1600)
        assert kept.getpixel((500, 100))[0] > 200
        assert kept.getpixel((500, 1500))[2] > 200
        assert not kept.getexif()
        assert "comment" not in kept.info
    assert b"PhoneMaker" not in data
    assert b"Exif" not in data


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_other_kinds_of_picture_become_jpeg(bench_client, fish, form_key, kind):
    send(bench_client, fish, form_key, from_a_phone(200, 100, turned=1, kind=kind))
    with Image.open(Photo.objects.get().image) as kept:
        assert (kept.format, kept.size) == ("JPEG", (200, 100))


def test_what_is_clear_in_a_picture_becomes_white_not_black():
    out = io.BytesIO()
    Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(out, "PNG")
    with Image.open(io.BytesIO(pictures.tidied(out))) as kept:
        assert kept.getpixel((10, 10)) == (255, 255, 255)


def bomb() -> bytes:
    """A few kilobytes that claim more pixels than any camera has."""
    out = io.BytesIO()
    Image.new("1", (12_000, 12_000)).save(out, "PNG")
    return out.getvalue()


@pytest.mark.parametrize(
    ("file", "says"),
    [
        (b"<svg onload='alert(1)'/>", "not a picture that can be read"),
        (b"", "empty"),
        (b"%PDF-1.7", "not a picture that can be read"),
        (from_a_phone(400, 300)[:900], "not a picture that can be read"),
        (bomb(), "too many pixels"),
    ],
    ids=["svg", "empty", "pdf", "cut short", "bomb"],
)
def test_what_is_no_picture_is_said_and_not_kept(bench_client, fish, form_key, file, says):
    answer = send(bench_client, fish, form_key, file)
    assert answer.status_code == 422
    if says != "empty":
        assert says in answer.content.decode()
    assert not Photo.objects.exists()


def test_a_cut_short_picture_is_refused_after_a_paper_was_made_too(bench_client, fish, form_key):
    """The library that sets papers changes how the library of pictures reads, for the whole process."""
    paper._set("<p>A paper</p>", tagged=False)
    answer = send(bench_client, fish, form_key, from_a_phone(400, 300)[:900])
    assert answer.status_code == 422


def test_a_picture_too_large_is_said(bench_client, fish, form_key, settings):
    settings.PHOTO_MAX_BYTES = 1000
    answer = send(bench_client, fish, form_key, from_a_phone())
    assert answer.status_code == 422
    assert "this one is larger" in answer.content.decode()


def test_a_body_too_large_has_a_page_of_its_own(bench_client, fish, form_key, settings):
    settings.BODY_MAX_BYTES = 1000
    answer = send(bench_client, fish, form_key, from_a_phone())
    assert answer.status_code == 413
    assert "too large to take in" in answer.content.decode()
    assert "Content-Security-Policy" in answer.headers


def test_words_without_end_get_the_same_page(counter_client, profile, form_key):
    entries = {"name": "x" * 3_000_000, "kind": "private", "submission_key": form_key()}
    assert counter_client.post("/people/new/", entries).status_code == 413


def test_a_photo_sent_twice_is_one_and_two_under_one_key_are_not_lost_in_silence(bench_client, fish, form_key):
    key, one, two = form_key(), from_a_phone(200, 100), from_a_phone(300, 100)
    assert send(bench_client, fish, form_key, one, key=key).url == send(bench_client, fish, form_key, one, key=key).url
    assert Photo.objects.count() == 1
    assert send(bench_client, fish, form_key, two, key=key).status_code == 422


def test_several_chosen_at_once_are_photos_of_their_own(bench_client, fish, form_key):
    send(bench_client, fish, form_key, from_a_phone(200, 100), from_a_phone(300, 100))
    assert Photo.objects.count() == 2


@pytest.mark.parametrize("name", ["photo", "photo-small"])
def test_a_photo_is_shown_only_to_who_is_logged_in_and_kept_by_their_browser_alone(
    client, bench_client, bench, fish, name
):
    where = reverse(name, args=[rows.photo(bench, fish).pk])
    assert client.get(where).status_code == 302
    answer = bench_client.get(where)
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Cache-Control"].startswith("private")


def test_media_has_no_address_of_its_own(bench_client, bench, fish):
    assert bench_client.get(f"/media/{rows.photo(bench, fish).image.name}").status_code == 404

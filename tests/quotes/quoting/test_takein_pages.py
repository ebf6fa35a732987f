"""Take-in at the counter: one page, asked once, nothing lost, nothing stored by halves."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from quotes.models import Damage, TakeIn
from quotes.quoting import TAKE_IN_CHECK
from shop.models import Board, Customer, Photo
from shop.platform.acts import Signed
from tests.quotes import seed
from tests.reading import says
from tests.shop.rows import picture

pytestmark = pytest.mark.usefixtures("profile")


def entries(form_key, **changed):
    ticks = {f"check_{number}": "on" for number in range(len(TAKE_IN_CHECK))}
    own = {
        "submission_key": form_key(),
        "rows": "1",
        "who_name": "Niamh Brennock",
        "who_phone": "020 910 0144",
        "board_name": "5′6″ fish",
        "length_mm": "5′6″",
        "width_mm": "21 in",
        "tail_shape": "fish",
        "core": "pu",
        "resin": "polyester",
        "skin": "glass",
        "d0_kind": "box",
        "d0_side": "bottom",
        "d0_place": "fin-left",
        "d0_length": "118 mm",
        "d0_width": "34",
        "d0_depth": "0.9 in",
        "save": "",
        **ticks,
    }
    return {name: value for name, value in {**own, **changed}.items() if value is not None}


def test_one_page_takes_in_customer_board_and_damage(counter_client, form_key):
    answer = counter_client.post(reverse("takein-new"), entries(form_key))
    takein = TakeIn.objects.get()
    assert answer.url == reverse("takein", args=[takein.pk])
    damage = takein.damages.get()
    assert damage.measures == {"length": "118 mm", "width": "34", "depth": "0.9 in"}
    assert damage.from_stringer_mm < 0 < damage.from_tail_mm
    assert takein.board.length_mm == Decimal("1676.4")  # 66 in × 25.4, kept to a tenth
    page = says(counter_client.get(answer.url))
    assert "Niamh Brennock" in page
    assert "118 mm" in page


def test_a_double_tap_makes_one_record(counter_client, form_key):
    sent = entries(form_key)
    first, second = (counter_client.post(reverse("takein-new"), sent) for _ in range(2))
    assert first.url == second.url
    assert TakeIn.objects.count() == Customer.objects.count() == 1


def test_a_known_customer_and_board_are_picked_not_typed(counter_client, form_key):
    owner = seed.customer()
    owner.save()
    board = seed.fish(owner)
    board.save()
    found = says(counter_client.get(reverse("takein-new"), {"q": "0144"}))
    assert f"?customer={owner.pk}" in found
    picked = says(counter_client.get(reverse("takein-new"), {"customer": owner.pk}))
    assert f"board={board.pk}" in picked
    assert 'name="who_name"' not in picked
    page = says(counter_client.get(reverse("takein-new"), {"customer": owner.pk, "board": board.pk}))
    assert 'name="board_name"' not in page
    assert "data-place" in page  # its drawing, to point at
    known = {"customer": str(owner.pk), "board": str(board.pk), "who_name": None, "board_name": None}
    counter_client.post(reverse("takein-new"), entries(form_key, **known))
    assert TakeIn.objects.get().board == board
    assert Customer.objects.count() == Board.objects.count() == 1


def test_one_more_damage_keeps_what_was_typed_and_stores_nothing(counter_client, form_key):
    answer = counter_client.post(reverse("takein-new"), entries(form_key, more="1", save=None))
    page = says(answer)
    assert answer.status_code == 200
    assert "Niamh Brennock" in page
    assert "118 mm" in page
    assert 'name="d1_kind"' in page
    assert "error-summary" not in page
    assert not TakeIn.objects.exists()
    two = {"rows": "2", "d1_kind": "ding", "d1_side": "right rail", "d1_from_tail": "1100 mm", "d1_length": "90 mm"}
    counter_client.post(reverse("takein-new"), entries(form_key, **two))
    ding = Damage.objects.get(number=2)
    assert ding.from_tail_mm == 1100
    assert 200 < ding.from_stringer_mm < 267  # on the right rail, whose edge is at most half of 533.4 mm away


def test_all_is_looked_at_with_one_tick_but_for_what_has_a_reason(counter_client, form_key):
    alone = {f"check_{number}": None for number in range(len(TAKE_IN_CHECK))} | {"all_looked_at": "on"}
    counter_client.post(reverse("takein-new"), entries(form_key, **alone))
    takein = TakeIn.objects.get()
    assert takein.checks == [{"line": line, "ok": True, "reason": ""} for line in TAKE_IN_CHECK]
    but = {**alone, "why_3": "no fins left with it", "why_4": "  ", "who_name": "Somebody", "who_phone": ""}
    counter_client.post(reverse("takein-new"), entries(form_key, **but))
    checks = TakeIn.objects.latest("pk").checks
    assert [check["line"] for check in checks if not check["ok"]] == [TAKE_IN_CHECK[3]]
    assert checks[3]["reason"] == "no fins left with it"


@pytest.mark.parametrize(
    ("place", "chosen", "side"),
    [("fin-left", "", "bottom"), ("nose", "", "nose"), ("middle-left", "", "left rail"), ("fin-left", "deck", "deck")],
)
def test_a_usual_place_says_its_side_unless_one_is_chosen(counter_client, form_key, place, chosen, side):
    counter_client.post(reverse("takein-new"), entries(form_key, d0_place=place, d0_side=chosen))
    assert Damage.objects.get().side == side


def test_two_digits_are_the_last_of_a_phone_and_two_letters_begin_a_name(counter_client):
    for name, phone in (("Niamh", "020 910 0144"), ("Connie", "044 910 0199"), ("Ann", "")):
        Customer.objects.create(name=name, phone=phone)

    def found(words):
        rows = counter_client.get(reverse("takein-new"), {"q": words}).context["found"]
        return [one.name for one in rows]

    assert found("44") == ["Niamh"]
    assert found("ni") == ["Niamh", "Connie"]
    assert found("n") == []


def test_finding_people_asks_as_often_for_one_as_for_eight(counter_client, django_assert_max_num_queries):
    owners = [seed.customer(f"Niamh {number}") for number in range(8)]
    for owner in owners[:1]:
        owner.save()
    with django_assert_max_num_queries(20) as few:
        counter_client.get(reverse("takein-new"), {"q": "ni"})
    for owner in owners[1:]:
        owner.save()
        seed.fish(owner).save()
    with django_assert_max_num_queries(len(few)):
        counter_client.get(reverse("takein-new"), {"q": "ni"})


def test_the_drawing_turns_over_for_the_bottom_and_keeps_what_was_pointed_at(counter_client):
    board = seed.fish(seed.customer())
    board.owner.save()
    board.owner_id = board.owner.pk
    board.save()
    asked = {"row": "1", "board": board.pk, "d0_from_tail": "800 mm", "d0_from_stringer": "100 mm", "d0_hand": "left"}
    pins = []
    for side in ("deck", "bottom"):
        page = says(counter_client.get(reverse("takein-outline"), {**asked, "d0_side": side}))
        assert ("from-below" in page) == (side == "bottom")
        pins.append(
            [float(text) for text in page.split('class="new-pin" transform="translate(')[1].split(")")[0].split()]
        )
        middle = float(page.split('data-middle="')[1].split('"')[0])
    (x_deck, y_deck), (x_under, y_under) = pins
    assert x_deck == x_under
    assert y_deck < middle < y_under
    assert y_deck + y_under == pytest.approx(2 * middle, abs=0.2)


def test_an_empty_second_damage_is_left_out(counter_client, form_key):
    counter_client.post(reverse("takein-new"), entries(form_key, rows="2", d1_kind=""))
    assert Damage.objects.count() == 1


def test_a_pin_may_be_measured(counter_client, form_key):
    measured = {"d0_place": "", "d0_from_tail": "230 mm", "d0_from_stringer": "150 mm", "d0_hand": "left"}
    counter_client.post(reverse("takein-new"), entries(form_key, **measured))
    damage = Damage.objects.get()
    assert (damage.from_tail_mm, damage.from_stringer_mm) == (230, -150)


BAD_SIZES = ["12 g", "-12", "wide", "9" * 10_000, "9**9**9 m", "1,500"]


@pytest.mark.parametrize("typed", BAD_SIZES)
@pytest.mark.parametrize("field", ["length_mm", "d0_depth", "d0_from_tail"])
def test_a_size_that_can_not_be_read_is_said_and_everything_kept(counter_client, form_key, field, typed):
    answer = counter_client.post(reverse("takein-new"), entries(form_key, **{field: typed}))
    page = says(answer)
    assert answer.status_code == 422
    assert f'id="id_{field}_error"' in page
    assert f'href="#id_{field}"' in page
    assert "<title>Error: " in page
    assert "Niamh Brennock" in page
    if len(typed) < 100:
        assert f'value="{typed}"' in page
    assert not TakeIn.objects.exists()
    assert not Customer.objects.exists()


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"who_name": ""}, "who_name"),
        ({"board_name": ""}, "board_name"),
        ({"width_mm": ""}, "width_mm"),
        ({"d0_kind": ""}, "d0_kind"),
        ({"d0_place": ""}, "d0_place"),
        ({"d0_place": "", "d0_from_tail": "230", "d0_from_stringer": "150"}, "d0_hand"),
        ({"d0_from_tail": "2500 mm", "d0_from_stringer": "0"}, "d0_from_tail"),
        ({"check_2": None}, "why_2"),
        ({f"check_{number}": None for number in range(len(TAKE_IN_CHECK))}, "all_looked_at"),
        ({"d0_side": "", "d0_place": "middle"}, "d0_side"),
        ({"needed_by": "2020-01-01"}, "needed_by"),
        ({"needed_by": "soon"}, "needed_by"),
        ({"nose_mm": "25 in"}, "nose_mm"),
        ({"wants": "x" * 2001}, "wants"),
    ],
)
def test_what_is_missing_or_wrong_is_said_beside_it(counter_client, form_key, changed, field):
    answer = counter_client.post(reverse("takein-new"), entries(form_key, **changed))
    page = says(answer)
    assert answer.status_code == 422
    assert f'id="id_{field}_error"' in page
    assert not TakeIn.objects.exists()


def test_a_board_of_five_metres_is_asked_about_once(counter_client, form_key):
    answer = counter_client.post(reverse("takein-new"), entries(form_key, length_mm="5 m"))
    assert answer.status_code == 422
    assert 'name="odd_length_mm"' in says(answer)
    counter_client.post(reverse("takein-new"), entries(form_key, length_mm="5 m", odd_length_mm="on"))
    assert TakeIn.objects.get().board.length_mm == 5000


def test_any_language_and_markup_are_words(counter_client, form_key):
    odd = {"who_name": "山田 🏄 <b>Ü</b>", "wants": "<script>alert(1)</script>", "d0_words": "“ding” & <i>more</i>"}
    answer = counter_client.post(reverse("takein-new"), entries(form_key, **odd))
    page = says(counter_client.get(answer.url))
    assert "山田 🏄 &lt;b&gt;Ü&lt;/b&gt;" in page
    assert "<script>alert" not in page


def test_the_outline_is_drawn_while_sizes_are_typed(counter_client):
    url = reverse("takein-outline")
    drawn = counter_client.get(url, {"row": "2", "length_mm": "5′6″", "width_mm": "21 in", "tail_shape": "fish"})
    assert 'data-x="id_d1_from_tail"' in says(drawn)
    for wrong in ({}, {"length_mm": "9**9**9 m", "width_mm": "21 in"}, {"length_mm": "900 km", "width_mm": "3"}):
        assert "data-place" not in says(counter_client.get(url, wrong))


def test_damages_are_added_changed_and_taken_off_from_pages(counter_client, takein, form_key):
    ding = {"kind": "ding", "side": "deck", "place": "middle", "length": "50 mm", "submission_key": form_key()}
    counter_client.post(reverse("damage-new", args=[takein.pk]), ding)
    damage = Damage.objects.get(number=2)
    shown = says(counter_client.get(reverse("damage-edit", args=[damage.pk])))
    assert 'value="50 mm"' in shown
    off = {**ding, "place": "", "from_tail": "9 m", "odd_from_tail": "on", "submission_key": form_key()}
    refused = counter_client.post(reverse("damage-edit", args=[damage.pk]), off)
    assert refused.status_code == 422
    assert "must lie on the board" in says(refused)
    counter_client.post(
        reverse("damage-edit", args=[damage.pk]), {**ding, "kind": "crack", "submission_key": form_key()}
    )
    assert Damage.objects.get(pk=damage.pk).kind == "crack"
    counter_client.post(reverse("damage-remove", args=[damage.pk]), {"submission_key": form_key()})
    assert takein.damages.count() == 1


def test_the_record_is_changed_and_closed(counter_client, takein, form_key):
    url = reverse("takein-edit", args=[takein.pk])
    page = says(counter_client.get(url))
    assert 'id="id_check_0"' in page
    ticks = {f"check_{number}": "on" for number in range(len(TAKE_IN_CHECK))}
    counter_client.post(url, {**ticks, "wants": "by Friday", "submission_key": form_key()})
    takein.refresh_from_db()
    assert takein.wants == "by Friday"
    counter_client.post(reverse("takein-back", args=[takein.pk]), {"submission_key": form_key()})
    takein.refresh_from_db()
    assert takein.gone_at is not None
    assert counter_client.post(url, {**ticks, "submission_key": form_key()}).status_code == 422


def test_the_code_on_the_tag_opens_the_record(bench_client, takein):
    for path in (f"/t/{takein.tag}", f"/T/{takein.tag}"):
        assert bench_client.get(path).url == reverse("takein", args=[takein.pk])
    assert bench_client.get("/T/999").status_code == 404


def test_the_bench_sees_the_board_but_no_quote(bench_client, quote):
    takein = quote.boards.get().takein
    page = says(bench_client.get(reverse("takein", args=[takein.pk])))
    assert "left box crushed" in page
    for url in (reverse("quote", args=[quote.pk]), reverse("quotes")):
        assert url not in page
        assert bench_client.get(url).status_code == 403


def test_the_record_asks_as_often_for_one_damage_as_for_many(
    counter_client, takein, counter, django_assert_max_num_queries
):
    from quotes import quoting
    from tests.conftest import NOW

    url = reverse("takein", args=[takein.pk])
    with django_assert_max_num_queries(12) as few:
        counter_client.get(url)
    for _ in range(7):
        quoting.add_damage(takein=takein, damage=seed.rail_ding(), signed=Signed(counter, NOW))
    with django_assert_max_num_queries(len(few)):
        counter_client.get(url)


def shot(name="shot.jpg"):
    return SimpleUploadedFile(name, picture(), content_type="image/jpeg")


def test_photos_of_the_board_and_of_each_damage_come_with_it(counter_client, form_key):
    two = {"rows": "2", "d1_kind": "ding", "d1_place": "middle-right"}
    photos = {"photos": [shot()], "d0_photos": [shot(), shot()], "d1_photos": [shot()]}
    answer = counter_client.post(reverse("takein-new"), entries(form_key, **two, **photos))
    takein = TakeIn.objects.get()
    assert [damage.photos.count() for damage in takein.damages.all()] == [2, 1]
    assert takein.board.photos.count() == 4
    page = says(counter_client.get(answer.url))
    assert page.count("<img") == 4, "each photo is shown once"
    assert 'alt="Damage 1, photo 2"' in page


def test_what_is_no_picture_is_said_beside_it_and_nothing_is_stored(counter_client, form_key):
    wrong = SimpleUploadedFile("shot.jpg", b"no picture", content_type="image/jpeg")
    answer = counter_client.post(reverse("takein-new"), entries(form_key, d0_photos=[wrong]))
    assert answer.status_code == 422
    assert 'id="id_d0_photos_error"' in says(answer)
    assert not TakeIn.objects.exists()
    assert not Photo.objects.exists()


@pytest.mark.parametrize("typed", [{"d1_length": "90"}, {"d1_photos": [None]}])
def test_a_damage_without_its_kind_is_not_left_out_in_silence(counter_client, form_key, typed):
    typed = {name: [shot()] if value == [None] else value for name, value in typed.items()}
    answer = counter_client.post(reverse("takein-new"), entries(form_key, rows="2", d1_kind="", **typed))
    assert answer.status_code == 422
    assert 'id="id_d1_kind_error"' in says(answer)


def test_a_damage_of_a_board_that_is_here_gets_its_photos(counter_client, takein, form_key):
    damage = takein.damages.get()
    where = {"kind": "box", "side": "bottom", "place": "fin-left"}
    for url in (reverse("damage-edit", args=[damage.pk]), reverse("damage-new", args=[takein.pk])):
        answer = counter_client.post(url, {**where, "photos": [shot()], "submission_key": form_key()})
        assert answer.status_code == 302
    assert [one.photos.count() for one in takein.damages.all()] == [1, 1]

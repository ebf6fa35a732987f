"""Take-in in one hand: a known person's board with two damages, within a minute and three screens of a phone."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from quotes.models import TakeIn
from tests.browser.conftest import PHONE
from tests.conftest import make_user
from tests.quotes import seed
from tests.sample_shop import make_profile
from tests.shop.rows import picture

pytestmark = pytest.mark.django_db(transaction=True)

SCREEN = PHONE["viewport"]["height"]
CRUSHED = {"length": "120", "width": "35", "depth": "25"}
RAIL = {"length": "90", "width": "40", "depth": "12"}


@pytest.fixture
def known(transactional_db, page, log_in):
    """A board whose owner was here before, among others."""
    make_profile()
    log_in(page, make_user("counter"))
    for name in ("Brendan", "Sinead", "Old Harbour Surf School"):
        other = seed.customer(name)
        other.phone = "020 910 0777"
        other.save()
    owner = seed.customer()
    owner.save()
    board = seed.fish(owner)
    board.save()
    return board


def mark(hand, row, kind, place, sizes):
    box = hand.page.locator
    hand.choose(box(f"[name=d{row}_kind]"), kind)
    hand.choose(box(f"[name=d{row}_place]"), place)
    for name, words in sizes.items():
        hand.type(box(f"[name=d{row}_{name}]"), words)


def find(hand, url, signs, board):
    page = hand.page
    hand.go(f"{url}/take-in/new/")
    hand.type(page.locator("#q"), signs)
    hand.tap(page.get_by_role("link", name=board.name))


def height(page):
    return page.evaluate("document.documentElement.scrollHeight")


@pytest.fixture
def photo(tmp_path):
    """The path of a photo of this name."""

    def taken(name):
        path = tmp_path / f"{name}.jpg"
        path.write_bytes(picture(2400, 1800))
        return str(path)

    return taken


def test_two_damages_of_a_known_person_take_a_minute(known, photo, hand, quiet, live_server, record_property):
    page = hand.page
    find(hand, live_server.url, "44", known)
    hand.photograph(page.locator("[name=photos]"), photo("board"))
    mark(hand, 0, "fin box", "left fin", CRUSHED)
    hand.photograph(page.locator("[name=d0_photos]"), photo("box"))
    hand.tap(page.get_by_role("button", name="One more damage"))
    mark(hand, 1, "open ding", "middle, right rail", RAIL)
    hand.photograph(page.locator("[name=d1_photos]"), photo("ding"))
    expect(page.get_by_text("1 photo goes with it.")).to_have_count(3)
    tall = height(page)
    hand.tap(page.get_by_label("All looked at"))
    hand.tap(page.get_by_role("button", name="Take in the board"))
    takein = TakeIn.objects.get()
    assert takein.board == known
    assert [(one.kind, one.side) for one in takein.damages.all()] == [("box", "bottom"), ("ding", "right rail")]
    assert all(check["ok"] for check in takein.checks)
    assert [one.photos.count() for one in takein.damages.all()] == [1, 1]
    assert known.photos.count() == 3
    assert page.get_by_alt_text("Damage 1, photo 1").is_visible()
    record_property("by hand", f"take-in with two damages: the page is {tall} px high")
    assert tall <= 3 * SCREEN
    assert hand.seconds <= 60, hand.says()


def test_two_letters_find_who_was_here_before_and_more_boards_are_one_tap_further(known, page, live_server):
    page.goto(f"{live_server.url}/take-in/new/")
    page.locator("#q").press_sequentially("ni")
    found = page.locator("#found")
    expect(found.get_by_role("link")).to_have_count(2)
    expect(found).to_contain_text(known.owner.name)
    page.locator("#q").press_sequentially("zz")
    expect(found).to_contain_text("Nobody found for “nizz”")


def test_one_more_damage_keeps_the_place_and_what_was_chosen(known, photo, page, live_server):
    page.goto(f"{live_server.url}/take-in/new/?board={known.pk}")
    page.locator("[name=d0_length]").fill("118 mm")
    for name in ("first", "second"):
        page.locator("[name=d0_photos]").set_input_files(photo(name))
    expect(page.get_by_text("2 photos go with it.")).to_be_visible()
    more = page.get_by_role("button", name="One more damage")
    more.scroll_into_view_if_needed()
    more.click()
    expect(page.locator("[name=d1_kind]")).to_be_in_viewport()
    expect(page.locator("[name=d1_kind]")).to_be_focused()
    assert page.locator("[name=d0_length]").input_value() == "118 mm"
    more.click()
    expect(page.locator("[name=d2_kind]")).to_be_focused()
    assert page.locator("fieldset.close").count() == 3
    assert page.locator("[name=rows]").input_value() == "3"
    held = "document.querySelector('[name=d0_photos]').files.length"
    assert page.evaluate(held) == 2
    page.get_by_role("button", name="Take in the board").click()
    expect(page.locator(".error-summary")).to_be_visible()
    assert page.evaluate(held) == 2, "a form that is refused keeps its photos"


def test_the_bottom_is_drawn_as_the_bottom_and_a_tap_on_it_is_mirrored(known, page, live_server):
    page.goto(f"{live_server.url}/take-in/new/?board={known.pk}")
    drawing = page.locator("[data-place] svg")
    box = drawing.bounding_box()
    tap = {"x": box["width"] * 0.3, "y": box["height"] * 0.3}  # above the stringer: left on the deck
    drawing.click(position=tap)
    expect(page.locator("[name=d0_hand][value=left]")).to_be_checked()
    measured = page.locator("[name=d0_from_stringer]").input_value()
    page.locator("[name=d0_side]").select_option("bottom")
    expect(page.locator(".from-below")).to_be_visible()
    expect(page.locator(".new-pin")).to_be_visible()
    below = page.locator(".new-pin circle").bounding_box()
    now = drawing.bounding_box()
    assert below["y"] + below["height"] / 2 > now["y"] + now["height"] / 2, "the left rail of a bottom is drawn down"
    drawing.click(position=tap)
    expect(page.locator("[name=d0_hand][value=right]")).to_be_checked()
    assert page.locator("[name=d0_from_stringer]").input_value() == measured

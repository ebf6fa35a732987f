"""The small script: steppers, the place on the board, one form once, and entries that survive a dead line.

The page is answered by the test itself, so that the line can be cut at the worst moment.
"""

from __future__ import annotations

import re
from pathlib import Path
from types import SimpleNamespace

import django_htmx
import pytest
from django.conf import settings
from django.template import Context, Template

HERE = "http://shop.test"
FILES = {
    "/shed.js": Path(settings.BASE_DIR) / "shop/static/shop/shed.js",
    "/shed.css": Path(settings.BASE_DIR) / "shop/static/shop/shed.css",
    "/htmx.js": Path(django_htmx.__file__).parent / "static/django_htmx/htmx-2.min.js",
}
TYPES = {".js": "text/javascript", ".css": "text/css"}
POLICY = "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' data:"
FISH = SimpleNamespace(length_mm=1676, width_mm=533, nose_mm=381, tail_mm=406, tail_shape="fish")
CONFIG = re.search(
    r"<meta name=\"htmx-config\"[^>]*>", (Path(settings.BASE_DIR) / "templates/base.html").read_text()
).group()  # fmt: skip
BODY = """{% load look posting %}
{% post_form to="/book" %}
  <div class="stepper" data-step="0.5"><button type="button" class="less" hidden>less</button>
    <div class="box"><input id="mixed" name="mixed" value="28,0 g"></div>
    <button type="button" class="more" hidden>more</button></div>
  {% place board x="along" y="across" side="side" %}
  <input id="along" name="along"><input id="across" name="across">
  <input type="radio" name="side" value="left" id="left"><input type="radio" name="side" value="right" id="right">
  <button type="submit" class="go">Book it</button>
{% endpost_form %}
<form method="post" action="/slow" id="plain"><button type="submit">Send plainly</button></form>"""
REFUSED = '<div class="error-summary" tabindex="-1" data-focus><div role="alert"><h2>Not saved yet</h2></div></div>'


def page_around(body: str) -> str:
    return (
        f'<!doctype html><html lang="en"><head><title>x</title>{CONFIG}<link rel="stylesheet" href="/shed.css">'
        '<script src="/htmx.js" defer></script><script src="/shed.js" defer></script></head>'
        f'<body><main id="main" tabindex="-1">{body}</main></body></html>'
    )


@pytest.fixture
def shop(page):
    """The page in a browser; `answer` says what a sent form meets: a status, or None for a dead line."""
    state = SimpleNamespace(page=page, answer=200, sent=[], complaints=[])
    page.on("console", lambda m: state.complaints.append(m.text) if "Content Security Policy" in m.text else None)
    body = Template(BODY).render(Context({"board": FISH}))

    def respond(route):
        request, path = route.request, route.request.url.removeprefix(HERE)
        if request.method == "POST":
            state.sent.append(request.post_data)
            if state.answer is None:
                return route.abort("internetdisconnected")
            html = page_around(REFUSED if state.answer == 422 else "<h1>Booked</h1>")
            return route.fulfill(status=state.answer, content_type="text/html", body=html)
        if path in FILES:
            file = FILES[path]
            return route.fulfill(content_type=TYPES[file.suffix], body=file.read_text())
        headers = {"Content-Security-Policy": POLICY}
        return route.fulfill(content_type="text/html; charset=utf-8", body=page_around(body), headers=headers)

    page.route(f"{HERE}/**", respond)
    page.goto(f"{HERE}/")
    yield state
    assert not state.complaints


def test_plus_and_minus_keep_the_comma_and_the_unit_that_were_typed(shop):
    shop.page.get_by_role("button", name="more").click()
    assert shop.page.input_value("#mixed") == "28,5 g"
    for _ in range(2):
        shop.page.get_by_role("button", name="less").click()
    assert shop.page.input_value("#mixed") == "27,5 g"


def test_an_amount_never_steps_below_nothing(shop):
    shop.page.fill("#mixed", "0.2")
    shop.page.get_by_role("button", name="less").click()
    assert shop.page.input_value("#mixed") == "0.0"


def test_what_is_not_a_plain_number_is_left_as_it_was_typed(shop):
    shop.page.fill("#mixed", "1 1/2 oz")
    shop.page.get_by_role("button", name="more").click()
    assert shop.page.input_value("#mixed") == "1 1/2 oz"


def test_a_tap_on_the_board_fills_in_the_place(shop):
    box = shop.page.locator(".board-place").bounding_box()
    shop.page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] * 0.75)
    along, across = shop.page.input_value("#along"), shop.page.input_value("#across")
    # half of 1676 mm; a quarter of the drawing above its lower edge, which is 14 units of 0.198 a mm beyond the rail
    assert abs(int(along.removesuffix(" mm")) - 838) <= 15
    assert abs(int(across.removesuffix(" mm")) - 169) <= 15
    assert shop.page.is_checked("#right")
    assert shop.page.locator(".new-pin").get_attribute("display") is None


def test_a_dead_line_keeps_the_entry_says_so_and_sends_it_again(shop):
    shop.answer = None
    shop.page.fill("#mixed", "31 g")
    shop.page.get_by_role("button", name="Book it").click()
    line = shop.page.get_by_role("alert")
    line.wait_for()
    assert "Not sent. Your entry is still here." in line.inner_text()
    assert shop.page.input_value("#mixed") == "31 g"
    shop.answer = 200
    shop.page.get_by_role("button", name="Send again").click()
    shop.page.get_by_role("heading", name="Booked").wait_for()
    assert len(shop.sent) == 2
    assert shop.sent[0] == shop.sent[1]


def test_an_answer_that_is_an_error_keeps_the_entry_too(shop):
    shop.answer = 500
    shop.page.fill("#mixed", "31 g")
    shop.page.get_by_role("button", name="Book it").click()
    shop.page.get_by_role("alert").wait_for()
    assert shop.page.input_value("#mixed") == "31 g"


def test_a_refused_form_comes_back_with_the_focus_on_what_is_wrong(shop):
    shop.answer = 422
    shop.page.get_by_role("button", name="Book it").click()
    shop.page.locator(".error-summary").wait_for()
    shop.page.wait_for_function("document.activeElement.className === 'error-summary'")  # once the swap has settled


def test_two_taps_send_one_form(shop):
    shop.page.get_by_role("button", name="Book it").dblclick()
    shop.page.get_by_role("heading", name="Booked").wait_for()
    assert len(shop.sent) == 1


def test_two_taps_send_a_plain_form_once(shop):
    shop.page.evaluate("() => { const b = document.querySelector('#plain button'); b.click(); b.click(); }")
    shop.page.get_by_role("heading", name="Booked").wait_for()
    assert len(shop.sent) == 1

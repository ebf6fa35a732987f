"""The form of one button and the form round fields: where they go, what goes with them, and nothing typed is markup."""

from __future__ import annotations

import html5lib
import pytest
from django.template import Context, Template
from django.urls import NoReverseMatch


def posted(tag: str, **context) -> html5lib.html5parser.etree.Element:
    html = Template("{% load posting %}" + tag).render(
        Context({"submission_key": "key-1", "csrf_token": "t", **context})
    )
    page = html5lib.HTMLParser(namespaceHTMLElements=False).parse(html)
    (form,) = page.iter("form")
    return form


def sent(form) -> dict[str, str]:
    return {box.get("name"): box.get("value") for box in form.iter("input")}


def test_a_button_goes_to_the_address_of_its_name_with_the_key_that_tells_a_second_tap():
    form = posted('{% post_button "step-start" 7 %}Sand first{% endpost_button %}')
    assert (form.get("method"), form.get("action")) == ("post", "/step/7/start/")
    assert sent(form) == {"csrfmiddlewaretoken": "t", "submission_key": "key-1"}
    (button,) = form.iter("button")
    assert (button.get("type"), button.get("class"), button.text) == ("submit", "go", "Sand first")


def test_it_is_sent_once_by_script_unless_the_browser_must_take_the_answer():
    assert posted('{% post_button "rack" %}Go{% endpost_button %}').get("hx-sync") == "this:drop"
    by_browser = posted('{% post_button "rack" by_browser=True %}Print{% endpost_button %}')
    assert not [name for name in by_browser.attrib if name.startswith("hx-")]
    assert sent(by_browser)["submission_key"] == "key-1"


def test_every_other_name_goes_along_unseen():
    form = posted(
        '{% post_button to=there look="quiet" early="1" at=place %}Now{% endpost_button %}', there="/x/", place=3
    )
    assert form.get("action") == "/x/"
    assert sent(form) == {"csrfmiddlewaretoken": "t", "submission_key": "key-1", "early": "1", "at": "3"}
    assert next(form.iter("button")).get("class") == "quiet"


def test_names_that_the_page_only_knows_when_it_is_shown_go_along_too():
    form = posted('{% post_button to="/x/" also=values at="3" %}Now{% endpost_button %}', values={"minutes": "45"})
    assert sent(form) == {"csrfmiddlewaretoken": "t", "submission_key": "key-1", "minutes": "45", "at": "3"}


def test_a_name_that_somebody_typed_is_never_markup():
    name = '"><script>alert(1)</script>'
    form = posted(
        "{% post_button to=name back=name look=name frame=name note=name %}<b>Undo</b> {{ name }}{% endpost_button %}",
        name=name,
    )
    assert not list(form.iter("script"))
    assert sent(form)["note"] == name
    assert form.get("class") == name
    button = next(form.iter("button"))
    assert button.get("class") == name
    assert "".join(button.itertext()) == f"Undo {name}"
    assert len(list(button.iter("b"))) == 1


def test_a_page_to_come_back_to_goes_with_the_address():
    form = posted('{% post_form "own-work" back=up %}{% endpost_form %}', up="/price-list/?a=1&b=2")
    assert form.get("action") == "/own-work/?from=/price-list/%3Fa%3D1%26b%3D2"
    assert posted('{% post_form "own-work" back=up %}{% endpost_form %}').get("action") == "/own-work/"


def test_without_an_address_it_goes_to_the_page_itself():
    assert posted("{% post_form %}{% endpost_form %}").get("action") is None


def test_fields_stand_in_a_form_as_they_were_written_and_photos_may_go_with_it():
    form = posted(
        '{% post_form "rack" frame="inside" html_id="mixed" files=True %}<input name="grams" value="{{ g }}">{% endpost_form %}',
        g='5 "g"',
    )
    assert (form.get("id"), form.get("class"), form.get("enctype")) == ("mixed", "inside", "multipart/form-data")
    assert form.get("data-shrink") is not None
    assert sent(form)["grams"] == '5 "g"'


def test_an_address_that_is_not_there_is_no_empty_form():
    with pytest.raises(NoReverseMatch):
        posted('{% post_button "no-such-page" %}Go{% endpost_button %}')

"""Forms that change something, as one tag: where they go, that they go off once, and the key that tells a second tap.

    {% post_button "step-start" step.pk %}Sand first{% endpost_button %}
    {% post_button "step-start" step.pk look="go plain" early="1" %}It is ready, begin now{% endpost_button %}
    {% post_form "price-row-move" row.pk %} … fields and buttons … {% endpost_form %}

What the page that is open answers itself needs no address: `{% post_form %}` sends back to where it stands.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

from django import template
from django.urls import reverse
from django.utils.safestring import SafeString

register = template.Library()


def _address(name: str, args: tuple[Any, ...], to: str, back: str) -> str:
    address = reverse(name, args=args) if name else str(to or "")
    return f"{address}?from={quote(back)}" if back else address


def _shown(context: template.Context, name: str, **said: Any) -> SafeString:
    """A template of ours with the page's own names round it; it escapes what it is given."""
    page = context.template
    assert page is not None  # a tag is only met while its page is being shown
    with context.push(**said):
        return page.engine.get_template(name).render(context)


@register.simple_block_tag(takes_context=True, end_name="endpost_form")
def post_form(
    context: template.Context, content: str, name: str = "", *args: Any, to: str = "", back: str = "",
    frame: str = "", html_id: str = "", files: bool = False, by_browser: bool = False,
) -> SafeString:  # fmt: skip
    """A form that is sent once: to the address called `name` with `args`, to the address `to`, or else to this page.

    `back` is the page to come back to (`?from=`), `frame` the form's class, `html_id` its id. `files` lets photos go
    with it, made smaller first. `by_browser` is for what the browser must take itself, as a PDF. Raises NoReverseMatch
    for an address that is not there.
    """
    said = {"content": content, "to": _address(name, args, to, back), "frame": frame, "html_id": html_id}
    return _shown(context, "shed/post_form.html", **said, files=files, by_browser=by_browser)


@register.simple_block_tag(takes_context=True, end_name="endpost_button")
def post_button(
    context: template.Context, content: str, name: str = "", *args: Any, to: str = "", back: str = "",
    look: str = "go", frame: str = "", goes: bool = False, by_browser: bool = False,
    also: Mapping[str, Any] | None = None, **hidden: Any,
) -> SafeString:  # fmt: skip
    """A form of one button, whose words are what stands between the tags; addresses as in `post_form`.

    `look` is the button's class, `goes` gives it the room of a page's last button. Every other name is sent along with
    its value, unseen; so is what `also` holds, where the names are not known here.
    """
    words = SafeString(content.strip())  # escaped where it was written
    unseen = {**(also or {}), **hidden}
    button = _shown(context, "shed/post_button.html", words=words, look=look, goes=goes, hidden=unseen)
    return post_form(context, button, name, *args, to=to, back=back, frame=frame, by_browser=by_browser)

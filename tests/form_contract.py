"""What every form of ours keeps to, tried from outside on any page that holds one.

`check(client, url)` looks at each POST form of the page as a browser would, then sends it empty and sends it rubbish,
and gives a sentence for whatever is not as it must be: labels; nothing left to the browser's own checks; refused with
status 422, "Error: " in the title and a summary whose links lead to the fields; what was typed still in its box and
never markup; nothing stored.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator

import html5lib
from django.test import Client

from tests.walker import counts, new_key

RUBBISH = "‮9**9**9 m 🏄 <script>alert(1)</script><b>"
HUGE = "9" * 10_000
HIDDEN = ("submission_key", "csrfmiddlewaretoken")
TYPED = ("text", "email", "tel", "url", "search", "date", "datetime-local", "time", "password", "")
UNCHECKED = ("search", "password")  # what may be anything, or is not shown again


def read(html: str) -> ET.Element:
    parser = html5lib.HTMLParser(tree=html5lib.getTreeBuilder("etree"), namespaceHTMLElements=False)
    tree: ET.Element = parser.parse(html)
    return tree


def forms_of(tree: ET.Element) -> list[ET.Element]:
    """The page's own POST forms: those in its main part that ask something."""
    main = tree.find(".//main")
    found = [] if main is None else main.findall(".//form")
    return [form for form in found if form.get("method", "").lower() == "post" and list(asked(form))]


def asked(form: ET.Element) -> Iterator[ET.Element]:
    """Every box, list and choice of a form that is not hidden."""
    for element in form.iter():
        if element.tag in ("select", "textarea") or (
            element.tag == "input" and element.get("type", "text") not in ("hidden", "submit", "button")
        ):
            yield element


def boxes(form: ET.Element) -> list[ET.Element]:
    """Where something is typed that is shown again."""
    return [e for e in asked(form) if e.tag == "textarea" or (e.tag == "input" and e.get("type", "text") in TYPED)]


def check(client: Client, url: str) -> list[str]:
    """Sentences for all that the page's forms do not keep to; none if they do."""
    tree = read(client.get(url).content.decode())
    forms = forms_of(tree)
    if not forms:
        return [f"{url} holds no form that asks something"]
    found = [problem for form in forms for problem in _looked_at(form, tree)]
    for form in forms:
        where = form.get("action") or url
        found += _refused(client, where, {**_hidden(form), "submission_key": new_key()}, typed="", must=_must(form))
        found += _refused_with_rubbish(client, where, form, RUBBISH)
        found += _refused_with_rubbish(client, where, form, HUGE)
    return found


def ready_to_send(client: Client, url: str) -> Iterator[tuple[str, dict[str, str]]]:
    """Address and entries, as they stand on the page, of each form of its main part that carries a key."""
    answer = client.get(url)
    if not answer.headers.get("Content-Type", "").startswith("text/html"):
        return
    main = read(answer.content.decode()).find(".//main")
    for form in [] if main is None else main.findall(".//form"):
        entries = _hidden(form)
        if "submission_key" not in entries:
            continue
        for element in boxes(form):
            text = "".join(element.itertext()) if element.tag == "textarea" else element.get("value", "")
            entries[element.get("name", "")] = text
        for element in form.iter("select"):
            chosen = [option for option in element.iter("option") if "selected" in option.attrib]
            entries[element.get("name", "")] = next((option.get("value", "") for option in chosen), "")
        for element in form.iter("input"):
            if element.get("type") == "radio" and ("checked" in element.attrib or element.get("name") not in entries):
                entries[element.get("name", "")] = element.get("value", "")
        for element in form.iter("button"):
            if element.get("name"):
                yield form.get("action") or url, {**entries, element.get("name", ""): element.get("value", "")}
                break
        else:
            yield form.get("action") or url, entries


def _looked_at(form: ET.Element, tree: ET.Element) -> Iterator[str]:
    names = [e.get("name") for e in form.iter() if e.tag == "input"]
    for name in HIDDEN:
        if name not in names:
            yield f"a form has no {name}"
    if "novalidate" not in form.attrib:
        yield "a form is checked by the browser: novalidate is missing"
    if any(e.get("type") == "file" for e in asked(form)) and form.get("enctype") != "multipart/form-data":
        yield "a form with files is not multipart"
    labelled = {label.get("for") for label in tree.iter("label")}
    for element in asked(form):
        name = element.get("name", "?")
        if element.get("id") not in labelled:
            yield f"{name} has no label"
        if element.get("type") in ("number", "range"):
            yield f"{name} is of type {element.get('type')}, which loses what cannot be read"
        for attribute in ("placeholder", "required", "maxlength", "minlength", "pattern", "min", "max", "step"):
            if attribute in element.attrib:
                yield f"{name} leaves {attribute} to the browser"


def _hidden(form: ET.Element) -> dict[str, str]:
    return {
        e.get("name", ""): e.get("value", "") for e in form.iter("input") if e.get("type") == "hidden" and e.get("name")
    }


def _must(form: ET.Element) -> bool:
    """Whether an empty form must be refused: some label does not say "(optional)"."""
    optional = {label.get("for") for label in form.iter("label") if "(optional)" in "".join(label.itertext())}
    return any(e.get("id") not in optional and e.get("type") not in ("checkbox", "radio") for e in asked(form))


def _strict(form: ET.Element) -> bool:
    """Whether some box cannot take just any words."""
    return any(
        e.get("inputmode") in ("decimal", "numeric") or e.get("type") in ("date", "email", "datetime-local", "time")
        for e in asked(form)
    ) or any(e.tag == "select" for e in asked(form))


def _refused_with_rubbish(client: Client, where: str, form: ET.Element, rubbish: str) -> list[str]:
    sent: dict[str, object] = {**_hidden(form), "submission_key": new_key()}
    for element in asked(form):
        if element.get("type") != "file" and element.get("name"):
            sent[element.get("name", "")] = rubbish
    typed = {e.get("name", "") for e in boxes(form) if e.get("type") not in UNCHECKED}
    return _refused(client, where, sent, typed=rubbish, must=_strict(form), kept=typed)


def _refused(
    client: Client, where: str, sent: dict[str, object], *, typed: str, must: bool, kept: set[str] | None = None
) -> list[str]:
    what = f"{where} sent {'empty' if not typed else typed[:12] + '…'}"
    before = counts()
    answer = client.post(where, sent)
    if answer.status_code in (302, 303) and not must:
        return []
    if answer.status_code != 422:
        return [f"{what}: answers {answer.status_code}, not 422"]
    found = []
    if counts() != before:
        found.append(f"{what}: something was stored all the same")
    html = answer.content.decode()
    tree = read(html)
    title = "".join(tree.find(".//title").itertext())  # type: ignore[union-attr]
    if not title.startswith("Error: "):
        found.append(f"{what}: the title does not begin with Error: but is {title!r}")
    ids = {e.get("id") for e in tree.iter() if isinstance(e.tag, str)}
    summaries = [e for e in tree.iter("div") if "error-summary" in e.get("class", "").split()]
    if len(summaries) != 1:
        found.append(f"{what}: {len(summaries)} summaries of what is wrong instead of one")
    for link in (a for summary in summaries for a in summary.iter("a")):
        if link.get("href", "").removeprefix("#") not in ids:
            found.append(f"{what}: the summary leads to {link.get('href')}, which is not there")
    if not any("".join(li.itertext()).strip() for summary in summaries for li in summary.iter("li")):
        found.append(f"{what}: the summary says nothing")
    if any(s.text and "alert(1)" in s.text for s in tree.iter("script")):
        found.append(f"{what}: what was typed became markup")
    shown = _shown(tree)
    lost = sorted(name for name in kept or () if name in shown and typed not in shown[name])
    found += [f"{what}: {name} did not keep what was typed" for name in lost]
    return found


def _shown(tree: ET.Element) -> dict[str, list[str]]:
    shown: dict[str, list[str]] = {}
    for element in tree.iter():
        if element.tag == "input" and element.get("name"):
            shown.setdefault(element.get("name", ""), []).append(element.get("value", ""))
        elif element.tag == "textarea" and element.get("name"):
            shown.setdefault(element.get("name", ""), []).append("".join(element.itertext()))
    return shown

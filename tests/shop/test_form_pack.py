"""The form pack: labels above, hint and error before the box, every refused entry kept and said twice in one voice."""

from __future__ import annotations

import html5lib
import pytest
from crispy_forms.helper import FormHelper
from crispy_forms.layout import ButtonHolder, Fieldset, Layout, Row, Submit
from django import forms
from django.template import Context, Template

CRISPY = "{% load crispy_forms_tags %}{% crispy form %}"
FILTER = "{% load crispy_forms_tags %}<form>{{ form|crispy }}</form>"


def text_field(width: str = "", before: str = "", after: str = "", step: str = "", **kwargs) -> forms.CharField:
    field = forms.CharField(**kwargs)
    field.width, field.before, field.after, field.step = width, before, after, step
    return field


class BoardForm(forms.Form):
    use_required_attribute = False
    name = text_field(label="What it is called", max_length=40)
    length = text_field(label="Length", width="short", after="mm", help_text="In mm, or 5′6″.")
    deposit = text_field(label="Deposit", before="€", required=False)
    mixed = text_field(label="Resin really mixed", step="0.5", after="g", required=False)
    tail = forms.ChoiceField(label="Tail", choices=[("pin", "pin"), ("fish", "fish")], widget=forms.RadioSelect)
    left = forms.MultipleChoiceField(
        label="Left with it",
        choices=[("bag", "bag"), ("fins", "fins")],
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text="What must go back.",
    )
    core = forms.ChoiceField(label="Core", choices=[("pu", "PU foam"), ("eps", "EPS foam")])
    wet = forms.BooleanField(label="Water at the damage", required=False)
    sure = forms.BooleanField(label="The customer has seen it", error_messages={"required": "Show it first."})
    photo = forms.ImageField(label="Photo", required=False)
    wants = forms.CharField(label="Wants", widget=forms.Textarea, required=False)
    due = forms.DateField(label="Needed by", widget=forms.SelectDateWidget(years=[2026]), required=False)
    secret = forms.CharField(widget=forms.HiddenInput, required=False)

    def clean(self):
        if self.cleaned_data.get("deposit") == "9":
            self.add_error(None, "A deposit of 9 is not taken.")


def with_helper(form: forms.Form, *layout, **attributes) -> forms.Form:
    form.helper = FormHelper()
    if layout:
        form.helper.layout = Layout(*layout)
    for name, value in attributes.items():
        setattr(form.helper, name, value)
    return form


def rendered(form: forms.Form, template: str = CRISPY, **context) -> html5lib.html5parser.etree.Element:
    """The page as a tree; fails when the HTML itself is malformed."""
    html = Template(template).render(Context({"form": form, "submission_key": "key-1", "csrf_token": "t", **context}))
    parser = html5lib.HTMLParser(namespaceHTMLElements=False)
    tree = parser.parse(f"<!doctype html><title>x</title>{html}")
    assert not parser.errors, [(place, code) for place, code, _ in parser.errors]
    return tree


def words(node) -> str:
    return " ".join("".join(node.itertext()).split())


def by_id(tree, name):
    found = tree.findall(f".//*[@id='{name}']")
    assert len(found) == 1, f"{len(found)} elements with id {name}"
    return found[0]


def first(tree, tag, **attributes):
    wanted = "".join(f"[@{key.rstrip('_').replace('_', '-')}='{value}']" for key, value in attributes.items())
    return tree.find(f".//{tag}{wanted}")


def classes(node) -> list[str]:
    return (node.get("class") or "").split()


def order(tree, *nodes) -> bool:
    """Whether the nodes come in this order in the page."""
    everything = list(tree.iter())
    places = [everything.index(n) for n in nodes]
    return places == sorted(places)


@pytest.fixture(params=[CRISPY, FILTER], ids=["tag", "filter"])
def template(request):
    return request.param


@pytest.fixture
def empty(template):
    return rendered(with_helper(BoardForm()), template)


@pytest.fixture
def refused(template):
    return rendered(with_helper(BoardForm({"name": "<b>Blue</b> one", "deposit": "9", "left": "nothing"})), template)


VISIBLE = [name for name in BoardForm.base_fields if name != "secret"]


def test_nothing_looks_wrong_before_anything_was_sent(empty):
    assert first(empty, "div", role="alert") is None
    assert first(empty, "*", aria_invalid="true") is None


@pytest.mark.parametrize("name", ["name", "length", "deposit", "mixed", "core", "wet", "sure", "photo", "wants"])
def test_every_box_has_a_label_of_its_own(empty, name):
    label = first(empty, "label", for_=f"id_{name}")
    assert words(label).startswith(str(BoardForm.base_fields[name].label))
    assert by_id(empty, f"id_{name}") is not None


def test_choices_stand_under_one_question_each_with_its_own_label(empty):
    group = by_id(empty, "div_id_tail")
    assert group.tag == "fieldset"
    assert words(group.find("legend")) == "Tail"
    assert [words(label) for label in group.findall(".//label")] == ["pin", "fish"]
    assert [label.get("for") for label in group.findall(".//label")] == ["id_tail_0", "id_tail_1"]
    assert len(by_id(empty, "div_id_left").findall(".//input[@type='checkbox']")) == 2


def test_a_box_of_several_parts_is_one_group(empty):
    assert by_id(empty, "div_id_due").tag == "fieldset"
    assert len(by_id(empty, "div_id_due").findall(".//select")) == 3


def test_the_hint_stands_before_the_box_and_is_read_with_it(empty):
    hint, box = by_id(empty, "id_length_helptext"), by_id(empty, "id_length")
    assert words(hint) == "In mm, or 5′6″."
    assert order(empty, first(empty, "label", for_="id_length"), hint, box)
    assert box.get("aria-describedby") == "id_length_helptext"
    assert by_id(empty, "div_id_left").get("aria-describedby") == "id_left_helptext"


def test_what_may_be_left_out_says_so_and_what_must_not_carries_no_asterisk(empty):
    assert "(optional)" in words(first(empty, "label", for_="id_deposit"))
    assert "(optional)" in words(by_id(empty, "div_id_left").find("legend"))
    assert words(first(empty, "label", for_="id_name")) == "What it is called"
    assert "(optional)" not in words(first(empty, "label", for_="id_wet"))
    assert "*" not in words(empty)


def test_a_search_form_does_not_call_every_box_optional():
    form = with_helper(BoardForm())
    form.all_optional = True
    assert "(optional)" not in words(rendered(form))


def test_the_browser_neither_checks_nor_cuts_off_nor_hides_what_is_asked(empty):
    for box in [*empty.iter("input"), *empty.iter("textarea"), *empty.iter("select")]:
        assert box.get("type") != "number"
        assert box.get("placeholder") is None
        assert box.get("required") is None
        assert box.get("maxlength") is None


def test_even_a_form_that_knows_nothing_of_the_pack_gets_no_browser_checks():
    class Foreign(forms.Form):
        count = forms.IntegerField(min_value=0, max_value=9)
        weight = forms.DecimalField()
        note = forms.CharField(max_length=5, min_length=2, widget=forms.TextInput(attrs={"placeholder": "like this"}))

    tree = rendered(with_helper(Foreign()))
    for name, keypad in [("count", "numeric"), ("weight", "decimal"), ("note", None)]:
        box = by_id(tree, f"id_{name}")
        assert (box.get("type"), box.get("inputmode")) == ("text", keypad)
        assert not {"required", "maxlength", "minlength", "min", "max", "step", "placeholder"} & set(box.keys())


def test_signs_stand_beside_the_box_and_the_box_fits_the_answer(empty):
    assert words(by_id(empty, "div_id_length")).endswith("mm")
    assert "w-short" in classes(by_id(empty, "div_id_length"))
    assert "w-full" in classes(by_id(empty, "div_id_name"))
    assert first(by_id(empty, "div_id_deposit"), "span", class_="unit").text == "€"


def test_an_amount_with_a_step_gets_plus_and_minus_that_wait_for_the_script(empty):
    stepper = first(by_id(empty, "div_id_mixed"), "div", class_="stepper")
    less, more = stepper.findall("button")
    assert stepper.get("data-step") == "0.5"
    assert (less.get("type"), more.get("type")) == ("button", "button")
    assert less.get("hidden") is not None
    assert less.get("aria-label") == "Resin really mixed: 0.5 less"


def test_a_refused_form_lists_what_is_wrong_in_the_words_that_stand_beside_each_box(refused):
    summary = first(refused, "div", class_="error-summary")
    assert summary.get("tabindex") == "-1"
    assert summary.get("role") is None  # the alert is inside, so that focus does not read it twice
    assert summary.find("div").get("role") == "alert"
    links = {a.get("href")[1:]: words(a) for a in summary.iter("a")}
    assert set(links) == {"id_length", "id_tail_0", "id_left_0", "id_core", "id_sure"}
    for target, sentence in links.items():
        assert by_id(refused, target).tag in ("input", "select")
        assert words(by_id(refused, f"{target.removesuffix('_0')}_error")) == f"Wrong: {sentence}"
    assert "A deposit of 9 is not taken." in [words(li) for li in summary.iter("li")]


def test_a_wrong_box_says_so_to_a_screen_reader(refused):
    box = by_id(refused, "id_length")
    assert box.get("aria-invalid") == "true"
    assert box.get("aria-describedby") == "id_length_helptext id_length_error"
    assert order(refused, by_id(refused, "id_length_helptext"), by_id(refused, "id_length_error"), box)
    assert "wrong" in classes(by_id(refused, "div_id_length"))
    assert by_id(refused, "div_id_tail").get("aria-describedby") == "id_tail_error"


def test_every_entry_of_a_refused_form_is_kept_and_never_becomes_markup(refused):
    assert by_id(refused, "id_name").get("value") == "<b>Blue</b> one"
    assert by_id(refused, "id_deposit").get("value") == "9"
    assert first(refused, "b") is None


@pytest.mark.parametrize("name", VISIBLE)
def test_no_box_is_lost(empty, name):
    assert any(
        box.get("name", "").split("_")[0] == name for box in empty.iter() if box.tag in ("input", "select", "textarea")
    )


def test_the_whole_form_is_sent_once_with_its_key_and_its_pictures():
    tree = rendered(with_helper(BoardForm()))
    form = tree.find(".//form")
    assert form.get("method") == "post"
    assert form.get("novalidate") is not None
    assert form.get("enctype") == "multipart/form-data"
    assert (form.get("hx-boost"), form.get("hx-sync")) == ("true", "this:drop")
    assert first(tree, "input", name="submission_key").get("value") == "key-1"
    assert first(tree, "input", name="csrfmiddlewaretoken") is not None


def test_a_form_that_asks_for_a_file_is_left_to_the_browser():
    assert rendered(with_helper(BoardForm(), by_browser=True)).find(".//form").get("hx-boost") is None


def test_a_search_changes_nothing_so_it_carries_no_key():
    tree = rendered(with_helper(BoardForm(), form_method="get"))
    assert first(tree, "input", name="submission_key") is None
    assert first(tree, "input", name="csrfmiddlewaretoken") is None


def test_a_layout_groups_boxes_and_buttons():
    form = with_helper(
        BoardForm(),
        Fieldset("The board", Row("name", "length"), "core", css_id="board"),
        ButtonHolder(Submit("save", "Take it in"), Submit("drop", "Throw away", css_class="alarm")),
    )
    tree = rendered(form)
    assert words(by_id(tree, "board").find("legend")) == "The board"
    assert "w-full" in classes(by_id(tree, "board").find("./div[@class='row']/div"))
    save, drop = first(tree, "div", class_="goes").findall("button")
    assert (save.get("type"), save.get("name"), words(save)) == ("submit", "save", "Take it in")
    assert classes(save) == ["go"]
    assert classes(drop) == ["go", "alarm"]
    assert tree.find(".//*[@id='id_wants']") is None  # a layout shows what it names

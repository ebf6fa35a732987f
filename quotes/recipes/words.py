"""A recipe in words: what each step is set to, where its places lie, and what differs between two versions."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import SequenceMatcher
from typing import Any

from quotes.costing import REGISTRY, Measure
from quotes.costing.basis.setting import LISTS, Setting
from quotes.costing.recipes.recipe import CoreRecipe, RecipeStep
from shop.measures import units

Names = Mapping[str, str]  # material key → its name


def act_name(act: RecipeStep) -> str:
    """What a step is called: the recipe's own title, else the operation's name."""
    operation = REGISTRY.get(act.operation)
    return str(act.settings.get("title") or (operation.name if operation else act.operation))


def act_settings(act: RecipeStep, core: CoreRecipe, materials: Names) -> list[tuple[str, str]]:
    """(label, words) of every setting the recipe says itself but the title; when it is done has no label."""
    operation = REGISTRY.get(act.operation)
    if operation is None:
        return []
    pairs = [
        (setting.label, setting_words(setting, act.settings[setting.name], core, materials))
        for setting in operation.settings
        if setting.name in act.settings and setting.name != "title"
    ]
    if act.when:
        pairs.append(("", _when(act, core)))
    return pairs


def when_words(measure: Measure) -> str:
    """When something that hangs on a measure is done: only when there are pockets to fill."""
    what = measure.label[:1].lower() + measure.label[1:]
    if measure.dimension != "count":
        return f"only when {what} is more than 0"
    first = what.partition(" ")[0]
    return f"only when there {'are' if first.endswith('s') and not first.endswith('ss') else 'is'} {what}"


def _when(act: RecipeStep, core: CoreRecipe) -> str:
    if not act.when:
        return "always"
    found = next((measure for measure in core.measures if measure.name == act.when), None)
    return when_words(found) if found else f"only when there is {act.when}"


def setting_words(setting: Setting, value: Any, core: CoreRecipe, materials: Names) -> str:
    """A setting's value as one reads it: 25 mm, Fins, Cloth 6 oz and Cloth 4 oz."""
    if setting.kind == "number":
        return measure_label(core, value) if isinstance(value, str) else figure(value, setting.unit)
    if setting.kind in LISTS:
        return ", ".join(materials.get(one, one) for one in value)
    if setting.kind == "material":
        return materials.get(value, value) if value else "none"
    return str(value).replace("_", " ") if setting.kind == "place" else str(value)


def figure(value: float, unit: str) -> str:
    """A number with its unit, where it has one that is written."""
    sign = {"": "", "1": "", "piece": "", "percent": "%", "degree": "°", "degC": "°C"}.get(unit, unit)
    return f"{value:g} {sign.replace('m2', 'm²').replace('m3', 'm³')}".strip()


def measure_label(core: CoreRecipe, name: str) -> str:
    """Label of a measure, else its name."""
    return next((measure.label for measure in core.measures if measure.name == name), name)


def place_words(spec: Mapping[str, Any], core: CoreRecipe) -> str:
    """What a place is: ellipse, Length × Width × Depth; or an earlier one grown by 25 mm."""
    if spec.get("shape") == "grown":
        return f"{str(spec.get('of', '?')).replace('_', ' ')}, larger by {_size(spec.get('by'), core)} all round"
    sizes = [f"{size.replace('_', ' ')} {_size(value, core)}" for size, value in spec.items() if size != "shape"]
    return ", ".join([str(spec.get("shape", "?")).replace("-", " "), *sizes])


def _size(value: Any, core: CoreRecipe) -> str:
    if value is None:
        return "?"
    return f"= {measure_label(core, value)}" if isinstance(value, str) else f"{value:g} mm"


def measure_words(measure: Measure) -> str:
    """The limits of the plausible, and the value it has if nobody says one."""
    unit = units.symbol(measure.unit) if measure.unit != "piece" else ""
    words = f"usual {measure.low:g} to {measure.high:g} {unit}".strip()
    return words if measure.default is None else f"{words}, {measure.default:g} unless said"


def what_changed(old: Mapping[str, Any], new: Mapping[str, Any], materials: Names) -> list[str]:
    """One sentence for each thing that differs between two versions of a recipe."""
    before, after = CoreRecipe.from_dict(old), CoreRecipe.from_dict(new)
    said = [
        f"{label}: {_said(old.get(name))} → {_said(new.get(name))}"
        for name, label in _TEXTS.items()
        if old.get(name) != new.get(name)
    ]
    was, now = ({m.name: m for m in core.measures} for core in (before, after))
    said += [f"Measure {m.label} added" for name, m in now.items() if name not in was]
    said += [f"Measure {m.label} taken out" for name, m in was.items() if name not in now]
    said += [f"Measure {m.label} changed" for name, m in now.items() if name in was and was[name] != m]
    for name in {**before.places, **after.places}:
        first, last = before.places.get(name), after.places.get(name)
        if first != last:
            words = (place_words(first, before) if first else "not there", place_words(last, after) if last else "gone")
            said.append(f"Place {name.replace('_', ' ')}: {words[0]} → {words[1]}")
    return said + _steps_changed(before, after, materials)


_TEXTS = {
    "name": "Name",
    "about": "What it is",
    "kinds": "Damages it mends",
    "may_turn_up": "What may turn up",
    "release_check": "Release check",
    "aftercare": "Aftercare",
}


def _said(value: Any) -> str:
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value or "nothing")


def _steps_changed(before: CoreRecipe, after: CoreRecipe, materials: Names) -> list[str]:
    said: list[str] = []
    keys = [[(act.operation, act_name(act)) for act in core.acts] for core in (before, after)]
    for tag, i, j, k, m in SequenceMatcher(a=keys[0], b=keys[1], autojunk=False).get_opcodes():
        if tag == "equal":
            for here, there in zip(range(i, j), range(k, m), strict=True):
                said += _act_changed(there + 1, before, before.acts[here], after, after.acts[there], materials)
            continue
        said += [f"Step {n + 1} taken out: {act_name(before.acts[n])}" for n in range(i, j)]
        said += [f"Step {n + 1} put in: {act_name(after.acts[n])}" for n in range(k, m)]
    return said


def _act_changed(
    number: int, before: CoreRecipe, old: RecipeStep, after: CoreRecipe, new: RecipeStep, materials: Names
) -> list[str]:
    operation = REGISTRY.get(new.operation)
    said = []
    for setting in operation.settings if operation else ():
        was, now = old.settings.get(setting.name), new.settings.get(setting.name)
        if was != now:
            words = [
                "as usual" if value is None else setting_words(setting, value, core, materials)
                for value, core in ((was, before), (now, after))
            ]
            said.append(f"Step {number} {act_name(new)}, {setting.label}: {words[0]} → {words[1]}")
    if old.when != new.when:
        words = [_when(act, core) for core, act in ((before, old), (after, new))]
        said.append(f"Step {number} {act_name(new)}, done {words[0]} → {words[1]}")
    return said

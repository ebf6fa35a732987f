"""The journal's keys have one style, like `quote.send`; entries of before get theirs."""

from django.db import migrations

KEYS = {
    "absorb extra": "extra.absorb",
    "accept way": "way.accept",
    "add board": "quote.add_board",
    "add damage": "damage.add",
    "add line": "line.add",
    "add price row": "wall_list.add",
    "add repair": "repair.add",
    "add way": "way.add",
    "agree": "way.agree",
    "answer extra": "extra.answer",
    "book sundries": "use.sundries",
    "bring back recipe": "recipe.bring_back",
    "change damage": "damage.change",
    "change line": "line.change",
    "change price row": "wall_list.change",
    "change quote": "quote.change",
    "change recipe": "recipe.change",
    "change repair": "repair.change",
    "change take-in": "takein.change",
    "change way": "way.change",
    "charge after all": "job.charge_after_all",
    "charge nothing": "job.charge_nothing",
    "choose repair": "repair.choose",
    "correct minutes": "minutes.correct",
    "correct use": "use.correct",
    "decline quote": "quote.decline",
    "drop step": "step.drop",
    "finish job": "job.finish",
    "finish step": "step.finish",
    "hand back": "takein.hand_back",
    "issue credit note": "invoice.credit",
    "issue invoice": "invoice.issue",
    "learn now": "learned.renew",
    "leave figure": "figure.leave",
    "leave own work": "own_work.leave",
    "make recipe": "recipe.make",
    "money": "money.take",
    "move price row": "wall_list.move",
    "move way": "way.move",
    "note extra": "extra.note",
    "note hours": "hours.note",
    "pick up": "job.pick_up",
    "price extra": "extra.price",
    "print job sheet": "job.print_sheet",
    "print price list": "wall_list.print",
    "promise another day": "job.promise",
    "propose another way": "extra.propose_way",
    "put in sanding": "step.sanding",
    "rang, left a word": "ring.left_word",
    "rang, spoke": "ring.spoke",
    "record mix": "use.mix",
    "record use": "use.record",
    "redo step": "step.redo",
    "remove damage": "damage.remove",
    "remove line": "line.remove",
    "remove price row": "wall_list.remove",
    "remove repair": "repair.remove",
    "remove way": "way.remove",
    "renew recipe": "recipe.renew",
    "reopen step": "step.reopen",
    "replace quote": "quote.replace",
    "retire recipe": "recipe.retire",
    "said right": "log.confirm",
    "say temperature": "shop.temperature",
    "send quote": "quote.send",
    "set figure": "figure.set",
    "set own work": "own_work.set",
    "start quote": "quote.start",
    "start step": "step.start",
    "stop job": "job.stop",
    "take hours back": "hours.take_back",
    "take in": "takein.add",
    "undo stock": "stock.undo",
    "undo use": "use.undo",
    "use as planned": "use.as_planned",
    "work out": "quote.work_out",
}


def renamed(keys):
    def rename(apps, schema_editor):
        entries = apps.get_model("shop", "JournalEntry").objects.using(schema_editor.connection.alias)
        for before, after in keys.items():
            entries.filter(verb=before).update(verb=after)
        schema_editor.connection.check_constraints()

    return rename


class Migration(migrations.Migration):
    dependencies = [("shop", "0001_first_release")]

    operations = [migrations.RunPython(renamed(KEYS), renamed({after: before for before, after in KEYS.items()}))]

"""Gives a code to every kit, machine and box that a running season has already."""

import secrets

from django.db import migrations

from kitshare.rules import codes


def make(apps, schema_editor):
    kits, machines, parts, kept = (apps.get_model("kits", name).objects for name in ("Kit", "Machine", "Part", "Code"))
    taken, rows, boxes = set(), [], set()

    def add(**of):
        text = codes.draw(secrets.choice)
        while text in taken:
            text = codes.draw(secrets.choice)
        taken.add(text)
        rows.append(kept.model(text=text, **of))

    for key in kits.order_by("pk").values_list("pk", flat=True):
        add(kit_id=key)
    for key in machines.order_by("pk").values_list("pk", flat=True):
        add(machine_id=key)
    packed = parts.filter(retired_on=None).order_by("machine_id", "position", "pk")
    for machine, place in packed.values_list("machine_id", "packed_in"):
        box = (machine, place.strip().casefold())
        if box[1] and box not in boxes:
            boxes.add(box)
            add(machine_id=machine, box_key=box[1], box=place.strip())
    kept.bulk_create(rows)


class Migration(migrations.Migration):
    dependencies = [("kits", "0006_codes")]
    operations = [migrations.RunPython(make, migrations.RunPython.noop)]

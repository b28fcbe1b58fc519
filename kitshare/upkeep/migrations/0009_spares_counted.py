"""The number of spares that each part had becomes the first count of a shelf: nobody counted it, the site carries it over."""

from django.db import migrations
from django.utils import timezone
from django.utils.translation import gettext as _

LONGEST_NAME = 170


def count(apps, schema_editor):
    parts = apps.get_model("kits", "Part").objects
    thing, place, movement = (apps.get_model("upkeep", f"Shelf{name}") for name in ("Thing", "Place", "Movement"))
    now, taken = timezone.now(), set(thing.objects.values_list("name", flat=True))
    taken = {name.casefold() for name in taken}
    held = parts.filter(spares_held__gt=0, spares=None).select_related("machine__kit").order_by("pk")
    for part in held:
        name = own_name(part, taken)
        taken.add(name.casefold())
        spare = thing.objects.create(name=name, kind="spare", part=part, unit=_("piece"))
        there = place.objects.create(thing=spare, depot_id=part.machine.kit.depot_id)
        movement.objects.create(
            place=there,
            number=1,
            reason="counted",
            before=0,
            change=part.spares_held,
            balance=part.spares_held,
            note=_("As the part's own page said before there was a shelf."),
            at=now,
        )


def own_name(part, taken):
    """The part and its machine; where two are called so, the part's key as well."""
    name = f"{part.name}, {part.machine.name}"[:LONGEST_NAME]
    return name if name.casefold() not in taken else f"{name[: LONGEST_NAME - 12]} {part.pk}"


class Migration(migrations.Migration):
    dependencies = [("upkeep", "0008_shelf"), ("kits", "0008_spares_are_on_the_shelf")]
    operations = [migrations.RunPython(count, migrations.RunPython.noop)]

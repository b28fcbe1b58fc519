"""What rows from before meant, in the new fields.

Each kind keeps what it holds: filled to 0.96 it was heated, less full it was for must that works or for fresh juice,
fuller it had no room for either. Re-used glass is glass. A share was of whatever its kind usually holds. The yield of
0.55 was the one that the page began with, not a village's own.
"""

from decimal import Decimal

from django.db import migrations


def material_of(kind):
    name = kind.name.casefold()
    if kind.reused_glass or "glass" in name:
        return "glass"
    return "film" if "bag" in name else ""


def use_of(kind):
    if Decimal("0.91") < kind.fill_fraction <= Decimal("0.97"):
        return "heated"
    return "to_ferment" if kind.fill_fraction < Decimal("0.88") else "fresh"


def keep_meaning(apps, schema_editor):
    kinds = apps.get_model("pressdays", "ContainerKind")
    shares = apps.get_model("pressdays", "PlanShare")
    plans = apps.get_model("pressdays", "PressPlan")
    for kind in kinds.objects.order_by("pk"):
        kind.material, kind.usual_use = material_of(kind), use_of(kind)
        if kind.fill_fraction == Decimal("0.96"):
            kind.fill_fraction = None
        kind.save()
        shares.objects.filter(kind=kind).update(use=kind.usual_use)
    plans.objects.filter(yield_expected=Decimal("0.55")).update(yield_expected=None)


class Migration(migrations.Migration):
    dependencies = [("pressdays", "0004_craft")]

    operations = [migrations.RunPython(keep_meaning, migrations.RunPython.noop)]

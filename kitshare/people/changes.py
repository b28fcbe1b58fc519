"""What a change changed, and how the logbook says so."""

from datetime import time

from django.db import models
from django.utils.translation import gettext as _

# Facts of a person stay out of the logbook, which is never shortened: it says that they changed, not to what.
PRIVATE = {"email", "telephone", "note"}


def change(thing: models.Model, **values: object) -> dict[str, object]:
    """Set the values that differ, and give back what they were."""
    before = {name: getattr(thing, name) for name, value in values.items() if getattr(thing, name) != value}
    for name in before:
        setattr(thing, name, values[name])
    return before


def in_words(thing: models.Model, before: dict[str, object], *, moved: str = "") -> str:
    """What changed, in a few words: "kilograms in a crate: 16 → 18, coordinator: no"."""
    words = []
    for name, old in before.items():
        new = getattr(thing, name)
        label = str(thing._meta.get_field(name).verbose_name)  # type: ignore[union-attr]
        if isinstance(new, bool):
            words.append(f"{label}: {_('yes') if new else _('no')}")
        elif name in PRIVATE:
            words.append(label)
        else:
            words.append(f"{label}: {_shown(old)} → {_shown(new)}")
    return ", ".join([*words, *([moved] if moved else [])])


def _shown(value: object) -> str:
    return f"{value:%H:%M}" if isinstance(value, time) else str(value)

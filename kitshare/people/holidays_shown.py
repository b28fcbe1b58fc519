"""Whose holidays the season shows. They are shown and no more: which of them close a depot is chosen day by day."""

from datetime import datetime

from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.logbook import actions as logbook
from kitshare.people.models import Member, Scheme
from kitshare.rules import feasts


class HolidaysUnknown(Exception):
    """No holidays are known for that country, or for that part of it. `field` names which."""

    def __init__(self, field: str) -> None:
        self.field = field
        super().__init__(_("No holidays are known for it. Choose from the list."))


@deed
def show_holidays(*, scheme: Scheme, country: str, part: str, by: Member, at: datetime) -> Scheme:
    """Show the holidays of a country, or of a part of it; with an empty country show none."""
    if country and country not in feasts.countries():
        raise HolidaysUnknown("country")
    if part and part not in feasts.parts_of(country):
        raise HolidaysUnknown("part")
    scheme = Scheme.objects.select_for_update().get(pk=scheme.pk)
    if (scheme.holiday_country, scheme.holiday_part) == (country, part):
        return scheme
    scheme.holiday_country, scheme.holiday_part = country, part
    scheme.save(update_fields=["holiday_country", "holiday_part"])
    where = feasts.place_in_words(country, part) if country else _("nowhere: none are shown")
    text = _("Holidays shown in the season: %(where)s.") % {"where": where}
    logbook.write(deed="scheme_changed", text=text, about=[scheme], by=by, at=at)
    return scheme

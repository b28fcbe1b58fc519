"""How seldom a scheme wants its shelf to run out."""

from datetime import datetime

from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.logbook import actions as logbook
from kitshare.people.models import Member, Scheme


@deed
def choose_shortage(*, scheme: Scheme, one_in: int, by: Member, at: datetime, seen: int | None = None) -> Scheme:
    """Choose that one season in so many may need more than is kept: 2 to 1000. Raises ChangedMeanwhile."""
    scheme = Scheme.objects.select_for_update().get(pk=scheme.pk)
    before = scheme.shortage_one_in
    if before == one_in:
        return scheme
    logbook.check_unchanged(scheme, seen=seen, by_deeds=["shortage_chosen"])
    scheme.shortage_one_in = one_in
    scheme.save(update_fields=["shortage_one_in"])
    words = {"before": before, "now": one_in}
    text = _("Least counts of the shelf: one season in %(now)d may need more (before: one in %(before)d).") % words
    logbook.write(deed="shortage_chosen", text=text, about=[scheme], by=by, at=at)
    return scheme

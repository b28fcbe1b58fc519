"""What a scheme settles about its juice: how high it lies, and how long heated juice is said to keep."""

from datetime import datetime

from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.logbook import actions as logbook
from kitshare.people.changes import change, in_words
from kitshare.people.models import Member, Scheme


@deed
def change_juice_terms(
    *, scheme: Scheme, altitude_m: int, best_before_months: int, by: Member, at: datetime, seen: int | None = None
) -> Scheme:
    """Change them for checks and batches to come. Those recorded keep what held for them."""
    scheme = Scheme.objects.select_for_update().get(pk=scheme.pk)
    changes = change(scheme, altitude_m=altitude_m, best_before_months=best_before_months)
    if changes:
        logbook.check_unchanged(scheme, seen=seen, by_deeds=["juice_terms_changed"])
        scheme.save(update_fields=list(changes))
        text = _("Changed the scheme: %(changes)s.") % {"changes": in_words(scheme, changes)}
        logbook.write(deed="juice_terms_changed", text=text, about=[scheme], by=by, at=at)
    return scheme

"""Whose limits a scheme's electrical tests are judged by."""

from datetime import datetime

from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.logbook import actions as logbook
from kitshare.people.models import Member, Scheme
from kitshare.rules.electrics import RuleSet


@deed
def choose_electrical_rules(
    *, scheme: Scheme, rules: RuleSet | None, by: Member, at: datetime, seen: int | None = None
) -> Scheme:
    """Choose one country, or none, for tests to come. Those recorded keep the limits that they were judged by."""
    scheme = Scheme.objects.select_for_update().get(pk=scheme.pk)
    before = scheme.get_electrical_rules_display()
    if scheme.electrical_rules == (rules or ""):
        return scheme
    logbook.check_unchanged(scheme, seen=seen, by_deeds=["electrical_rules_chosen"])
    scheme.electrical_rules = rules or ""
    scheme.save(update_fields=["electrical_rules"])
    words = {"before": before, "now": scheme.get_electrical_rules_display()}
    text = _("Electrical tests are judged by the limits of: %(now)s (before: %(before)s).") % words
    logbook.write(deed="electrical_rules_chosen", text=text, about=[scheme], by=by, at=at)
    return scheme

"""The lists of members and villages."""

import django_tables2 as tables
from django.utils.translation import gettext_lazy as _

from kitshare.people.models import Member, Village


class MemberTable(tables.Table):
    """Everybody of the scheme. Expects their villages prefetched."""

    name = tables.Column(verbose_name=_("Name"), linkify=("people:member", {"pk": tables.A("pk")}))
    roles = tables.Column(verbose_name=_("Roles"), accessor="role_names", orderable=False, empty_values=())
    signs_for = tables.Column(verbose_name=_("Signs for"), accessor="pk", orderable=False)
    telephone = tables.Column(verbose_name=_("Telephone"), orderable=False)
    reached = tables.TemplateColumn(
        verbose_name=_("Signs in"), template_name="people/sign_in_word.html", orderable=False
    )

    class Meta:
        order_by = "name"

    def render_roles(self, record: Member) -> str:
        return ", ".join(record.role_names) or "–"

    def render_signs_for(self, record: Member) -> str:
        return ", ".join(sorted(village.name for village in record.villages.all())) or "–"


class VillageTable(tables.Table):
    """Every village that borrows or once did. Expects who signs for it prefetched."""

    name = tables.Column(verbose_name=_("Village"), linkify=("people:village", {"pk": tables.A("pk")}))
    signers = tables.Column(verbose_name=_("Who signs for it"), accessor="pk", orderable=False)
    standing = tables.TemplateColumn(
        verbose_name=_("Standing"), template_name="people/village_word.html", order_by=("left_on", "name")
    )

    class Meta:
        order_by = "name"

    def render_signers(self, record: Village) -> str:
        return ", ".join(sorted(member.name for member in record.borrowers.all())) or str(_("nobody yet"))

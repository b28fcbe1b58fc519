"""The list of services and safety tests that are due."""

import django_tables2 as tables
from django.utils.translation import gettext_lazy as _


class DueTable(tables.Table):
    """One row a service or safety test in force, the soonest due first; a reader may sort it otherwise."""

    plan = tables.TemplateColumn(
        template_name="upkeep/cells/plan.html",
        verbose_name=_("Service or test"),
        order_by=("machine__name", "name", "pk"),
        attrs={"td": {"class": "wide"}},
    )
    due_on = tables.TemplateColumn(
        template_name="upkeep/cells/due.html", verbose_name=_("Due"), order_by=("first_on", "pk")
    )
    need = tables.TemplateColumn(template_name="upkeep/cells/plan_need.html", verbose_name=_("Needed"), orderable=False)
    who = tables.TemplateColumn(
        template_name="upkeep/cells/who.html", verbose_name=_("Who may do it"), order_by=("who", "pk")
    )

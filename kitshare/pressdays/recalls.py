"""Asking batches back: which ones, why, who is told, and when it is over."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.conf import settings
from django.db.models import Prefetch, prefetch_related_objects
from django.urls import reverse
from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.logbook import actions as logbook
from kitshare.outbox import actions as outbox
from kitshare.outbox.speaking import in_each_language
from kitshare.people.models import Member, Scheme, Village
from kitshare.pressdays import heat_refusals as refusals
from kitshare.pressdays.heat_models import HeatRecord, HeatRecordQuerySet, Recall, RecalledBatch, RecallEnd
from kitshare.rules.heat_verdict import Verdict
from kitshare.upkeep.words import day_with_year


@dataclass(frozen=True, slots=True, kw_only=True)
class OfVillage:
    """The batches of one village, and who signs for it now."""

    village: Village
    records: list[HeatRecord]
    borrowers: list[Member]

    @property
    def bottles(self) -> int:
        return sum(record.bottles for record in self.records)


def proposed(since: date) -> HeatRecordQuerySet:
    """Batches filled on a day or after it that are not shown to be held, and not recalled; the newest first."""
    found: HeatRecordQuerySet = HeatRecord.objects.standing().filter(
        verdict=Verdict.NOT_SHOWN.value, filled_on__gte=since
    )
    recalled = RecalledBatch.objects.open().values("record__code")
    return found.exclude(code__in=recalled).with_where().order_by("-filled_on", "pk")


def kept_since(scheme: Scheme, today: date) -> date:
    """The day from which on somebody may still have juice: nobody keeps it longer than what was held is said to keep.

    The first of that month, and so generous by up to a month.
    """
    whole = today.year * 12 + today.month - 1 - scheme.best_before_months
    return date(whole // 12, whole % 12 + 1, 1)


def of_villages(records: Sequence[HeatRecord]) -> list[OfVillage]:
    """Batches village by village, in the order of their names. One query, whatever their number."""
    theirs: dict[Village, list[HeatRecord]] = {}
    for record in records:
        theirs.setdefault(record.booking.village, []).append(record)
    villages = sorted(theirs, key=lambda village: (village.name, village.pk))
    signers = Member.objects.active().order_by("name", "pk")
    prefetch_related_objects(villages, Prefetch("borrowers", queryset=signers, to_attr="signers"))
    return [
        OfVillage(village=village, records=theirs[village], borrowers=village.signers)  # type: ignore[attr-defined]
        for village in villages
    ]


@deed
def recall(
    *,
    records: Sequence[HeatRecord],
    reason: str,
    what_to_do: str,
    by: Member,
    at: datetime,
    key: uuid.UUID | None = None,
) -> Recall:
    """Ask batches back, and tell everybody who signs for their villages. Sent twice under one key, it is one recall."""
    if not by.coordinates:
        raise refusals.NotTheirsToRecall
    recalled_before = Recall.objects.filter(key=key).first() if key else None
    if recalled_before is not None:
        return recalled_before
    reason = _said(reason, "reason", _("Say why these bottles are asked back."))
    what_to_do = _said(what_to_do, "what_to_do", _("Say what people are to do with the bottles."))
    if not records:
        raise refusals.NothingChosen
    # The one row of the scheme is locked, so that of two recalls of one batch the second sees the first.
    Scheme.objects.select_for_update().first()
    standing = _standing(records)
    _refuse_recalled(standing)
    made = Recall(key=key or uuid.uuid4(), reason=reason, what_to_do=what_to_do, by=by, at=at)
    made.save()
    RecalledBatch.objects.bulk_create(RecalledBatch(recall=made, record=record) for record in standing)
    _tell(made, standing, at=at)
    text = _("Recalled %(codes)s: %(reason)s") % {"codes": codes_in_words(standing), "reason": reason}
    about = {*(record.booking for record in standing), *(record.booking.village for record in standing)}
    logbook.write(deed="batches_recalled", text=text, about=[made, *about], by=by, at=at)
    return made


@deed
def end_recall(*, recall: Recall, reason: str, by: Member, at: datetime) -> Recall:
    """Say that a recall is over, and why. The recall and its list stay."""
    if not by.coordinates:
        raise refusals.NotTheirsToRecall
    reason = _said(reason, "reason", _("Say why it is over: such as every bottle is back."))
    recall = Recall.objects.select_for_update().get(pk=recall.pk)
    if RecallEnd.objects.filter(recall=recall).exists():
        raise refusals.RecallOver
    RecallEnd(recall=recall, reason=reason, by=by, at=at).save()
    records = [batch.record for batch in recall.batches.select_related("record__booking__village").order_by("pk")]
    text = _("Ended the recall of %(codes)s: %(reason)s") % {"codes": codes_in_words(records), "reason": reason}
    about = {*(record.booking for record in records), *(record.booking.village for record in records)}
    logbook.write(deed="recall_ended", text=text, about=[recall, *about], by=by, at=at)
    return recall


def codes_in_words(records: Sequence[HeatRecord]) -> str:
    """The codes as they stand on bottles, one after the other."""
    return ", ".join(record.shown_code for record in records)


def _said(text: str, field: str, sentence: str) -> str:
    text = text.strip()
    if not text:
        raise refusals.NothingSaid(field, sentence)
    return text


def _standing(records: Sequence[HeatRecord]) -> list[HeatRecord]:
    """The records that stand now for the batches named, each once."""
    codes = {record.code for record in records}
    return list(HeatRecord.objects.standing().filter(code__in=codes).with_where().order_by("filled_on", "pk"))


def _refuse_recalled(records: Sequence[HeatRecord]) -> None:
    codes = [record.code for record in records]
    already = (
        RecalledBatch.objects.open().filter(record__code__in=codes).select_related("record").order_by("pk").first()
    )
    if already is not None:
        raise refusals.RecalledAlready(already.record)


@in_each_language
def _tell(recall: Recall, records: Sequence[HeatRecord], *, at: datetime) -> None:
    """One message to everybody who signs for a village, about the batches of that village."""
    address = settings.SITE_ADDRESS.rstrip("/") + reverse("heat:trace")
    for one in of_villages(records):
        for member in one.borrowers:
            lines = [
                _("These bottles of %(village)s are asked back: %(reason)s")
                % {"village": one.village.name, "reason": recall.reason},
                "\n".join(_line(record) for record in one.records),
                _("What to do: %(what)s") % {"what": recall.what_to_do},
                _("Tell everybody who has some. A code on a bottle can be looked up here: %(address)s")
                % {"address": address},
            ]
            outbox.queue(
                key=f"recall:{recall.pk}:{one.village.pk}:{member.pk}",
                to=member,
                subject=_("Please bring bottles back: %(codes)s") % {"codes": codes_in_words(one.records)},
                body="\n\n".join(lines),
                at=at,
                is_safety=True,
            )


def _line(record: HeatRecord) -> str:
    words = {
        "code": record.shown_code,
        "bottles": record.bottles,
        "container": record.container,
        "day": day_with_year(record.filled_on),
    }
    return _("%(code)s: %(bottles)s × %(container)s, filled on %(day)s") % words

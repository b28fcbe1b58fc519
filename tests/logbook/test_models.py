"""The logbook is only ever added to, by whichever way somebody tries to change it."""

import pytest
from django.db import IntegrityError, connection
from django.db.models import Exists, OuterRef

from kitshare.logbook.actions import write
from kitshare.logbook.models import Entry, Mention

pytestmark = pytest.mark.django_db


@pytest.fixture
def line(perpetua, heron, mill, now) -> Entry:
    return write(deed="kit_changed", text="Heron has a new tyre.", about=[heron, mill], by=perpetua, at=now)


WAYS = {
    "save": lambda row: row.save(),
    "save some fields": lambda row: row.save(update_fields=["pk"]),
    "delete": lambda row: row.delete(),
    "update": lambda row: type(row).objects.filter(pk=row.pk).update(pk=99),
    "update all": lambda row: type(row)._default_manager.update(pk=99),
    "queryset delete": lambda row: type(row).objects.all().delete(),
    "bulk update": lambda row: type(row).objects.bulk_update([row], ["pk"]),
    "update or create": lambda row: type(row).objects.update_or_create(pk=row.pk, defaults={"pk": row.pk}),
    "bulk create over what is there": lambda row: type(row).objects.bulk_create(
        [row], update_conflicts=True, update_fields=["id"], unique_fields=["id"]
    ),
}


@pytest.mark.parametrize("way", WAYS.values(), ids=WAYS)
def test_a_line_is_never_changed_or_taken_away(line, way):
    with pytest.raises(TypeError, match="only ever added to"):
        way(line)

    assert list(Entry.objects.values_list("pk", "text")) == [(line.pk, "Heron has a new tyre.")]


@pytest.mark.parametrize("way", WAYS.values(), ids=WAYS)
def test_what_a_line_is_about_is_never_changed_or_taken_away(line, way):
    before = list(Mention.objects.order_by("pk").values_list("pk", "kind", "key"))

    with pytest.raises(TypeError, match="only ever added to"):
        way(line.mentions.order_by("pk").first())

    assert list(Mention.objects.order_by("pk").values_list("pk", "kind", "key")) == before


def test_a_line_cannot_be_overwritten_by_a_new_one_of_its_key(line):
    usurper = Entry(pk=line.pk, at=line.at, by_name="Nobody", deed="x", text="It never happened.")

    with pytest.raises(IntegrityError):
        usurper.save()


def test_thing_mentioned_once_a_line(line, heron):
    with pytest.raises(IntegrityError):
        Mention.objects.create(entry=line, kind="kits.kit", key=heron.pk)


def test_a_line_about_a_thing_named_twice_mentions_it_once(perpetua, heron, now):
    entry = write(deed="kit_changed", text="Twice.", about=[heron, heron], by=perpetua, at=now)

    assert entry.mentions.count() == 1


def test_a_line_stays_true_when_whoever_wrote_it_is_renamed(line, perpetua):
    perpetua.name = "Perpetua Crabtree"
    perpetua.save()

    assert Entry.objects.get().by_name == "Perpetua Quillstone"


def test_where_nobody_did_it_the_site_did(heron, now):
    entry = write(deed="told", text="Told Sorrelhythe.", about=[heron], by=None, at=now)

    assert (entry.by_key, entry.by_name) == (None, "Kitshare")


def test_lines_about_a_thing_are_its_own_and_newest_first(line, perpetua, heron, otter, now):
    newer = write(deed="kit_changed", text="And a new lamp.", about=[heron], by=perpetua, at=now)
    write(deed="kit_changed", text="Otter too.", about=[otter], by=perpetua, at=now)

    assert list(Entry.objects.about(heron)) == [newer, line]
    assert list(Entry.objects.about(heron).before(newer)) == [line]


@pytest.mark.skipif(
    connection.vendor != "sqlite", reason="PostgreSQL chooses by what it counted, not by the query alone"
)
def test_each_question_about_mentions_is_answered_by_a_whole_index(heron):
    """With an index on the kind alone, searching 100,000 lines by kind did not end within ten minutes."""
    of_a_kind = Mention.objects.filter(entry=OuterRef("pk"), kind="kits.kit")

    by_kind = Entry.objects.filter(Exists(of_a_kind)).explain()
    about_a_thing = Entry.objects.about(heron).explain()

    assert "(entry_id=? AND kind=?)" in by_kind
    assert "(kind=? AND key=?)" in about_a_thing

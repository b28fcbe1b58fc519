"""Into an empty place, all or nothing; and told where it was cut short."""

import io
import json
import os
import signal
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import boto3
import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import FileSystemStorage, default_storage
from django.core.management import CommandError, call_command
from django.core.management.base import SystemCheckError
from django.db import connection
from django.utils import timezone
from moto import mock_aws

from kitshare.keeping import archive as archives
from kitshare.keeping import facts, moving
from kitshare.keeping.checks import no_restore_is_under_way
from kitshare.keeping.making import make_backup, settings_without_secrets
from kitshare.keeping.management.commands import restore as command
from kitshare.keeping.progress import Terminal
from kitshare.keeping.record import last_backup
from kitshare.keeping.refusals import KeepingRefused
from kitshare.keeping.restoring import Place, begun_file, looked_over, restore
from kitshare.keeping.telling import tell
from kitshare.kits.models import Part
from kitshare.outbox.models import Message
from kitshare.people.models import Scheme
from kitshare.serving.photos_on_s3 import PhotosOnS3
from kitshare.watch.models import Round
from tests.keeping.places import every_line, every_photo, on_sqlite

AT = datetime(2027, 10, 30, 23, 0, 0, 123456, tzinfo=UTC)
PICTURES = ["parts/a.jpg", "parts/b.jpg", "parts/c.jpg"]


@pytest.fixture
def site(transactional_db, settings, tmp_path, mill):
    """A small site with three pictures."""
    settings.DATA = tmp_path / "da ta+1#?%20"  # a path that needs care in an address
    settings.DATA.mkdir()
    for name in PICTURES:
        default_storage.save(name, ContentFile(name.encode() * 9))
        Part.objects.create(machine=mill, name=name, picture=name)
    return tmp_path


def back_up(folder, **more):
    return Path(make_backup(to=folder, at=AT, clock=timezone.now, **more).place)


def refusal(file, place) -> str:
    with pytest.raises(KeepingRefused) as refused:
        restore(file=file, at=AT, place=place)
    assert "\n" not in str(refused.value)
    return str(refused.value)


def is_untouched(place) -> bool:
    with closing(sqlite3.connect(place.connection.settings_dict["NAME"])) as there:
        tables = there.execute("SELECT COUNT(*) FROM sqlite_master").fetchone()[0]
    return tables == 0 and not facts.holds_photos(place.storage) and not begun_file().exists()


class Impatient(Terminal):
    """Somebody who presses Ctrl-C at the second photo."""

    def __call__(self, words: str, done: int, of: int) -> None:
        if (done, of) == (2, 3):
            raise KeyboardInterrupt


class OnATerminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_on_a_terminal_a_bar_grows_and_elsewhere_each_thing_is_a_line():
    there, file = OnATerminal(), io.StringIO()
    for out in (there, file):
        progress = Terminal(out)
        progress("The file is read", 0, 0)
        for done in range(1, 61):
            progress("Photos", done, 60)
        progress.end()

    assert file.getvalue() == "The file is read ...\nPhotos ...\n"
    first, *bars = there.getvalue().replace("\n", "\r").split("\r")[1:-1]
    assert first == "The file is read ..."
    assert len(bars) == 31  # one for each sign that the bar grows by
    assert bars[-1] == f"Photos [{'#' * 30}] 60 / 60"
    assert len({len(bar.partition("]")[0]) for bar in bars}) == 1


@pytest.mark.one_engine
class TestRestore:
    def test_a_place_that_holds_something_is_refused_and_left_as_it_is(self, site):
        file = back_up(site)
        with on_sqlite(site / "full") as place:
            restore(file=file, at=AT, place=place)
            Scheme.objects.using(place.alias).update(name="Somebody else")
            before = every_line(place.connection)

            assert "is restored into an empty one only" in refusal(file, place)
            assert every_line(place.connection) == before
        with on_sqlite(site / "photos-only") as place:
            place.storage.save("deep/down/one.jpg", ContentFile(b"kept"))

            assert "There are photos already" in refusal(file, place)
            assert every_photo(place.storage) == {"deep/down/one.jpg": b"kept"}
        with on_sqlite(site / "of-others") as place:
            with place.connection.cursor() as cursor:
                cursor.execute("CREATE TABLE cellar (bottles integer)")

            assert "has a table cellar that is none of Kitshare's" in refusal(file, place)
        assert not begun_file().exists()

    def test_a_place_that_was_only_migrated_is_empty(self, site):
        file = back_up(site)
        with on_sqlite(site / "new") as place:
            call_command("migrate", "people", database=place.alias, verbosity=0)

            restore(file=file, at=AT, place=place)

            assert every_line(place.connection) == every_line(connection)

    def test_killed_between_two_photos_it_says_so_does_not_start_and_goes_on(self, site):
        file = back_up(site)
        with on_sqlite(site / "new") as place:
            child = os.fork()
            if child == 0:
                try:
                    restore(file=file, at=AT, place=Place(place.alias, Deadly(place.storage.location)))
                finally:
                    os._exit(1)
            assert os.waitpid(child, 0)[1] == signal.SIGKILL
            assert facts.holds_photos(place.storage)

            (said,) = no_restore_is_under_way()
            assert "half filled" in said.msg
            with pytest.raises(SystemCheckError) as stopped:
                call_command("check")
            assert "half filled" in str(stopped.value)
            other = make_backup(to=site / "other.zip", at=timezone.now(), clock=timezone.now).place
            assert "The place is half filled from" in refusal(Path(other), place)

            restore(file=file, at=AT, place=place)

            assert every_line(place.connection) == every_line(connection)
            assert every_photo(place.storage) == every_photo(default_storage)
            assert no_restore_is_under_way() == []

    def test_who_stops_it_is_told_what_is_true_of_the_place(self, site, monkeypatch, capsys):
        file = back_up(site)
        with on_sqlite(site / "new") as place:
            monkeypatch.setattr(command, "restore", partial(restore, place=place))
            monkeypatch.setattr(command, "Terminal", Impatient)
            with pytest.raises(CommandError, match="as empty as it was"):
                call_command("restore", file)
            assert not facts.holds_photos(place.storage)
            assert not begun_file().exists()

            with looked_over(file) as archive:
                begun_file().write_text(json.dumps({"file": "x", "seal": archive.seal}))
            place.storage.save(PICTURES[2], ContentFile(b"of the time before"))
            with pytest.raises(CommandError, match="the same command goes on"):
                call_command("restore", file)
            assert begun_file().exists()

            monkeypatch.setattr(command, "Terminal", Terminal)
            call_command("restore", file)
            assert every_photo(place.storage) == every_photo(default_storage)
            assert every_line(place.connection) == every_line(connection)
        assert "Photos are put in place ..." in capsys.readouterr().err.splitlines()

    def test_killed_after_the_database_it_only_tidies_up(self, site):
        file = back_up(site)
        with on_sqlite(site / "new") as place:
            restore(file=file, at=AT, place=place)
            with looked_over(file) as archive:
                begun_file().write_text(json.dumps({"seal": archive.seal}))

            restore(file=file, at=AT, place=place)

            assert every_line(place.connection) == every_line(connection)
            assert not begun_file().exists()

            begun_file().write_text(json.dumps({"seal": archive.seal}))
            Message.objects.using(place.alias).create(key="new", queued_at=AT, due_at=AT, subject="", body="")
            assert "is restored into an empty one only" in refusal(file, place)

    def test_what_goes_wrong_on_the_way_leaves_the_place_empty(self, site, monkeypatch):
        file = back_up(site)
        with on_sqlite(site / "new") as place:
            full = OSError(28, "No space left on device")
            monkeypatch.setattr("kitshare.keeping.sqlite.put_in_place", lambda *_: (_ for _ in ()).throw(full))

            assert "There is no room left in" in refusal(file, place)
            assert is_untouched(place)

    def test_too_little_room_is_seen_before_anything_is_touched(self, site, monkeypatch):
        file = back_up(site)
        monkeypatch.setattr("kitshare.keeping.restoring.ROOM_TO_SPARE", 10**18)
        with on_sqlite(site / "new") as place:
            assert "free some room, then start again" in refusal(file, place)
            assert is_untouched(place)

    def test_an_older_file_is_brought_to_this_version(self, site):
        with on_sqlite(site / "older") as older:
            restore(file=back_up(site), at=AT, place=older)
            call_command("migrate", "outbox", "0001_initial", database=older.alias, verbosity=0)
            file = back_up(site / "older.zip", alias=older.alias)
        with looked_over(file) as archive:
            assert any("older than this version" in line for line in tell(archive))

        with on_sqlite(site / "new") as place:
            restore(file=file, at=AT, place=place)

            assert facts.migrations(place.connection) == facts.migrations(connection)
            assert Message.objects.using(place.alias).filter(is_safety=True).count() == 0
            assert Part.objects.using(place.alias).count() == Part.objects.count()

    def test_a_file_of_when_more_tables_travelled_is_restored(self, site, monkeypatch):
        Round.objects.create(name="worker", done_at=AT, seconds=1)
        with monkeypatch.context() as earlier:
            for module in ("facts", "sqlite"):
                earlier.setattr(f"kitshare.keeping.{module}.LEFT_OUT", ("django_session",))
            file = back_up(site)
        with on_sqlite(site / "new") as place:
            restore(file=file, at=AT, place=place)

            assert Part.objects.using(place.alias).count() == Part.objects.count()

    def test_a_database_that_would_do_something_by_itself_or_has_other_rows_is_refused(self, site, subtests):
        file = back_up(site)
        spoilt = {
            "trigger": "CREATE TRIGGER t AFTER INSERT ON people_scheme BEGIN DELETE FROM logbook_entry; END",
            "view": "CREATE VIEW v AS SELECT * FROM people_member",
            "rows": "DELETE FROM kits_part WHERE picture <> ''",
            "migrations": "UPDATE django_migrations SET name = '0001_other' WHERE app = 'kits' AND name = '0001_initial'",
        }
        with on_sqlite(site / "new") as place:
            for words, deed in spoilt.items():
                with subtests.test(words):
                    assert "The database in the file" in refusal(respelt(file, site / f"{words}.zip", deed), place)
                    assert is_untouched(place)
            with subtests.test("none at all"):
                assert "The database in the file" in refusal(respelt(file, site / "none.zip", None), place)


class Deadly(FileSystemStorage):
    """A disk beside which the power goes, at the third photo."""

    saved = 0

    def _save(self, name, content):
        self.saved += 1
        if self.saved == 3:
            os.kill(os.getpid(), signal.SIGKILL)
        return super()._save(name, content)


def respelt(file, place, deed):
    """The same backup with another database in it, all sums made anew: what a stranger could send."""
    base = place.with_suffix(".sqlite3")
    with looked_over(file) as archive, archives.Writer(place) as writer:
        archive.take_out(archive.manifest.database, base)
        if deed is None:
            base.write_bytes(b"rows" * 4096)
        else:
            with closing(sqlite3.connect(base)) as there:
                there.execute(deed)
                there.commit()
        for name in archive.manifest.contents:
            with base.open("rb") if name == archive.manifest.database else archive.open(name) as stream:
                writer.add(name, stream)
        told = archive.manifest
        writer.finish(type(told)(**{**told_of(told), "contents": writer.contents}))
    return place


def told_of(manifest):
    return {name: getattr(manifest, name) for name in manifest.__slots__}


@pytest.mark.one_engine
class TestBackup:
    def test_a_photo_that_is_gone_is_named_and_one_that_came_later_is_not_in_it(self, site):
        default_storage.delete("parts/b.jpg")
        default_storage.save("parts/later.jpg", ContentFile(b"later"))

        made = make_backup(to=site, at=AT, clock=timezone.now)

        assert (made.photos, made.photos_missing) == (2, 1)
        with looked_over(Path(made.place)) as archive:
            assert archive.manifest.photos_missing == ["parts/b.jpg"]
            assert sorted(archive.manifest.photos) == ["parts/a.jpg", "parts/c.jpg"]
            assert any("1 photos (parts/b.jpg)" in line for line in tell(archive))

    def test_a_photo_that_cannot_be_read_is_not_taken_for_one_that_is_gone(self, site, monkeypatch):
        def refuse(*_: object) -> None:
            raise ConnectionError("the storage does not answer")

        monkeypatch.setattr(default_storage, "open", refuse)

        with pytest.raises(KeepingRefused, match=r"parts/a\.jpg could not be read: the storage does not answer"):
            back_up(site)
        assert not list(site.glob("*kitshare*"))
        assert last_backup() is None

    def test_an_empty_site_is_not_backed_up(self, transactional_db, settings, tmp_path):
        settings.DATA = tmp_path

        with pytest.raises(KeepingRefused, match="There is nothing in this database: are KITSHARE_DATA"):
            back_up(tmp_path)
        assert list(tmp_path.iterdir()) == []

    def test_the_last_is_known_with_what_was_in_it(self, site):
        made = make_backup(to=site, at=AT, clock=timezone.now)

        assert last_backup() == made
        assert (made.made_at, made.photos, made.size_bytes) == (AT, 3, Path(made.place).stat().st_size)
        assert oct(Path(made.place).stat().st_mode)[-3:] == "600"

    def test_no_value_that_is_secret_is_in_it(self, site, monkeypatch):
        secret = "none-of-your-business"
        monkeypatch.setenv("KITSHARE_ADDRESS", "https://kit.example.org")
        for name in (
            "KITSHARE_SECRET_KEY",
            "EMAIL_URL",
            "KITSHARE_SETUP_WORD",
            "KITSHARE_PHOTOS_S3_SECRET",
            "KITSHARE_NEW",
        ):
            monkeypatch.setenv(name, secret)

        told = settings_without_secrets()
        file = back_up(site)

        assert told["values"] == {"KITSHARE_ADDRESS": "https://kit.example.org"}
        assert {"EMAIL_URL", "KITSHARE_NEW", "KITSHARE_PHOTOS_S3_SECRET"} <= set(told["kept_out"])
        assert secret.encode() not in file.read_bytes()

    def test_the_command_keeps_as_many_as_it_is_told_and_refuses_in_one_sentence(self, site, capsys, settings):
        for _each in range(2):
            (site / f"kitshare-2026100{_each}-000000.zip").touch()

        call_command("backup", "--to", str(site), "--keep", "2")

        assert "written and read back" in (said := capsys.readouterr().out)
        assert "Deleted, being older: kitshare-20261000-000000.zip" in said
        assert len(list(site.glob("kitshare-*.zip"))) == 2
        for words in (
            ["--keep", "0"],
            ["--to", str(site / "one.zip"), "--keep", "3"],
            ["--to", str(site / "no/where")],
        ):
            with pytest.raises(CommandError):
                call_command("backup", *words)


def test_a_site_that_runs_before_it_is_filled_stays_an_empty_place(db):
    """Whatever processes write of themselves must not keep a backup out."""
    call_command("tick")

    assert facts.filled_tables(connection) == []


def test_every_table_is_one_that_moves_stays_or_is_written_by_migrating(db):
    """A table that no list knows would be left behind when a site moves from one engine to the other."""
    moved = {model._meta.db_table for model in moving.travelling()}

    assert set(facts.tables(connection)) == moved | set(facts.LEFT_OUT) | {"django_migrations"}


@pytest.mark.one_engine
def test_photos_on_s3_come_back_under_their_names(site):
    options = {"bucket_name": "kitshare-photos", "access_key": "a key", "secret_key": "its secret"}
    with mock_aws():
        boto3.resource("s3", region_name="us-east-1").Bucket(options["bucket_name"]).create()
        ours, theirs = (PhotosOnS3(location=folder, region_name="us-east-1", **options) for folder in ("site", "new"))
        for name in PICTURES[1:]:
            ours._save(name, ContentFile(name.encode()))
        file = back_up(site, storage=ours)
        with on_sqlite(site / "new") as place:
            place = Place(place.alias, theirs)
            restore(file=file, at=AT, place=place)

            assert every_photo(theirs) == {name: name.encode() for name in PICTURES[1:]}
        with on_sqlite(site / "another") as place:
            assert "There are photos already" in refusal(file, Place(place.alias, theirs))
    with looked_over(file) as archive:
        assert archive.manifest.photos_missing == PICTURES[:1]

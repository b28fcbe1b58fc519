"""The work that tries a backup: what it says, what it keeps, and that its process of its own really restores."""

import os
from datetime import timedelta
from pathlib import Path

import pytest
from django.utils import timezone

from kitshare.bookings.models import Booking
from kitshare.keeping import kept
from kitshare.keeping.reading_back import CameBack
from kitshare.keeping.refusals import KeepingRefused
from kitshare.keeping.restoring import begun_file
from kitshare.works import actions as works
from kitshare.works import kinds, running, trying
from kitshare.works.models import State, Work
from kitshare.works.progress import LeftOff, Stopping
from tests.keeping.test_rehearsing import left_behind
from tests.keeping.test_restoring import AT, back_up, site  # noqa: F401  one is a fixture

NAME = "kitshare-20271030-230000.zip"


@pytest.fixture
def folder(db, settings, tmp_path):
    """A data folder with one backup that is kept and one that was sent in: what is in them, nobody reads here."""
    settings.DATA = tmp_path
    for name in (kept.BACKUPS, kept.SENT):
        (tmp_path / name).mkdir()
    (tmp_path / kept.BACKUPS / NAME).write_bytes(b"a backup")
    (tmp_path / kept.SENT / f"sent-{'a' * 32}").write_bytes(b"a backup")
    return tmp_path


@pytest.fixture
def ask(perpetua, now):
    def ask(name: str) -> Work:
        return works.ask(kind="rehearsal", about="site", keys={"file": name}, title="Try", by=perpetua, at=now)

    return ask


@pytest.fixture
def back(monkeypatch):
    """What comes back, or what is raised instead; and the files that were tried."""
    said = {"told": CameBack(AT, "0.1.0", "sqlite", {"kits_part": 1200}, {"kits_part": 1200}, 31, 0, 0), "files": []}

    def rehearse(*, file, tell, go_on, is_sent):
        assert is_sent is kept.is_sent(file.name)
        said["files"].append(file)
        tell("Photos are put in place", 31, 31)
        if isinstance(said["told"], BaseException):
            raise said["told"]
        return said["told"]

    monkeypatch.setattr(trying, "rehearse", rehearse)
    return said


def ended(work) -> tuple[str, str]:
    work.refresh_from_db()
    return work.state, work.words


@pytest.mark.one_engine
def test_it_says_of_which_moment_what_came_back_and_keeps_the_figures(folder, ask, back, now, agreed_booking):
    work = ask(NAME)

    running.do(work.pk, clock=lambda: now)

    assert ended(work) == (
        State.DONE,
        "On Wed 1 Sep 2027, 09:30 the backup of Sat 30 Oct 2027, 23:00 was restored in a place of its own: 1,200 of 1,200 "
        "rows and 31 of 31 photos came back. It took 1 second.",
    )
    assert "safe" not in work.words
    assert (work.found["file"], work.found["was_sent"], work.found["seconds"]) == (NAME, False, 1)
    assert work.found["today"]["bookings_booking"] == Booking.objects.count()
    assert back["files"] == [folder / kept.BACKUPS / NAME]


@pytest.mark.one_engine
@pytest.mark.parametrize(
    ("raised", "state", "words", "stays"),
    [
        (None, State.DONE, "On Wed", False),
        (KeepingRefused("{file} is damaged. Take another."), State.FAILED, "The file that was sent is damaged.", True),
        (LeftOff(), State.CANCELLED, "It was left off before it was done.", True),
        (Stopping(), State.ASKED, "", True),
    ],
)
def test_a_file_that_was_sent_goes_once_it_was_tried_and_is_not_named_by_its_place(
    folder, ask, back, now, raised, state, words, stays
):
    sent = folder / kept.SENT / f"sent-{'a' * 32}"
    if raised is not None:
        back["told"] = KeepingRefused(f"{sent} is damaged.") if isinstance(raised, KeepingRefused) else raised
    work = ask(sent.name)

    running.do(work.pk, clock=lambda: now)

    assert ended(work)[0] == state
    assert work.words.startswith(words)
    assert sent.exists() is stays


@pytest.mark.one_engine
def test_a_file_that_is_gone_or_no_backup_of_ours_is_refused(folder, ask, back, now, subtests):
    (folder / kept.BACKUPS / "diary.zip").touch()
    for name in ("kitshare-20200101-000000.zip", "diary.zip", f"../{kept.BACKUPS}/{NAME}", "sent-x"):
        with subtests.test(name):
            work = ask(name)
            running.do(work.pk, clock=lambda: now)
            assert ended(work)[0] == State.FAILED
            assert work.words.startswith("The file is not here any more, or lies on another machine")
    assert back["files"] == []


def test_the_last_try_and_the_last_good_one_are_kept_longer_than_a_week(folder, ask, back, now):
    tries = []
    for days, told in (
        (0, back["told"]),
        (1, back["told"]),
        (2, KeepingRefused("Damaged.")),
        (3, KeepingRefused("No.")),
    ):
        back["told"] = told
        tries.append(ask(NAME))
        running.do(tries[-1].pk, clock=lambda days=days: now + timedelta(days=days))

    works.sweep(at=now + timedelta(days=60))

    assert set(Work.objects.all()) == {tries[1], tries[3]}
    assert Work.objects.tries_of_backups().first() == tries[3]


@pytest.mark.one_engine
def test_what_was_sent_and_never_tried_goes_after_a_day(folder, ask, now):
    old = (now - timedelta(days=2)).timestamp()
    files = [folder / kept.SENT / f"{name}" for name in (f"sent-{'a' * 32}", f"sent-{'b' * 32}", "part-x", "part-new")]
    for file in files:
        file.touch()
        os.utime(file, (old, old))
    os.utime(files[3], (now.timestamp(), now.timestamp()))
    ask(files[0].name)

    works.sweep(at=now)

    assert sorted(folder.joinpath(kept.SENT).iterdir()) == sorted([files[0], files[3]])


@pytest.mark.one_engine
def test_backups_in_the_folder_of_the_last_one_are_at_hand_too(folder, settings, monkeypatch, tmp_path):
    elsewhere = tmp_path / "disk"
    elsewhere.mkdir()
    for name in (NAME, "kitshare-20271101-230000.zip", "kitshare-99999999-999999.zip", "notes.zip"):
        (elsewhere / name).write_bytes(b"1234")
    last = type("Last", (), {"place": str(elsewhere / NAME)})
    monkeypatch.setattr(kept, "last_backup", lambda: last)

    found = kept.kept_backups()

    assert [one.name for one in found] == ["kitshare-99999999-999999.zip", "kitshare-20271101-230000.zip", NAME]
    assert [one.file.parent.name for one in found] == ["disk", "disk", kept.BACKUPS]


def test_the_worker_beside_the_pages_restores_it_in_a_process_of_its_own(site, settings, ask):  # noqa: F811
    """What `serve` does in its thread, with nothing in place of anything: on either engine."""
    folder = settings.DATA / kept.BACKUPS
    folder.mkdir()
    file = Path(back_up(folder)).rename(folder / NAME)
    bookings = Booking.objects.count()
    work = ask(file.name)

    running.do_what_waits(clock=timezone.now, stopping=running.never)

    assert ended(work)[0] == State.DONE, work.words
    told, back = work.found["told"], work.found["back"]
    assert told == back
    assert (work.found["photos"], work.found["today"]["photos"], back["bookings_booking"]) == (3, 3, bookings)
    assert back["kits_part"] == work.found["today"]["kits_part"] == 3
    assert left_behind(settings) == []
    assert not begun_file().exists()
    assert file.exists()
    assert kinds.DOERS["rehearsal"] is trying.try_backup

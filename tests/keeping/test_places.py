"""Where backups are put, under which name, and how many stay."""

import fcntl
import os
from datetime import UTC, datetime, timedelta, timezone

import pytest

from kitshare.keeping import places
from kitshare.keeping.refusals import KeepingRefused

AT = datetime(2027, 10, 31, 2, 30, 5, 999999, tzinfo=timezone(timedelta(hours=2)))


def test_a_folder_gets_a_file_named_after_the_moment_in_utc(tmp_path):
    """By a clock of its own the hour between two and three comes twice that night."""
    assert places.place_for(tmp_path, AT) == tmp_path / "kitshare-20271031-003005.zip"
    assert places.place_for(tmp_path / "mine.zip", AT) == tmp_path / "mine.zip"


@pytest.mark.parametrize("to", ["stick/backups", "stick/mine.zip", "backups"])
def test_a_folder_that_is_not_there_is_not_made(tmp_path, to):
    """Where a disk is not mounted, a folder made in its place would be filled instead."""
    with pytest.raises(KeepingRefused, match="There is no folder"):
        places.place_for(tmp_path / to, AT)
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_written_over(tmp_path):
    (tmp_path / "kitshare-20271031-003005.zip").write_text("earlier")
    (tmp_path / "dangling.zip").symlink_to(tmp_path / "nowhere")

    for to in (tmp_path, tmp_path / "kitshare-20271031-003005.zip", tmp_path / "dangling.zip"):
        with pytest.raises(KeepingRefused, match="is there already, and was left as it is"):
            places.place_for(to, AT)


@pytest.mark.parametrize("links", [True, False])
def test_who_takes_the_name_meanwhile_keeps_it(tmp_path, monkeypatch, links):
    if not links:  # as on a stick

        def refuse(*_: object) -> None:
            raise PermissionError(1, "Operation not permitted")

        monkeypatch.setattr(os, "link", refuse)
    whole, file = tmp_path / "whole", tmp_path / "mine.zip"
    whole.write_text("new")

    places.put(whole, file)
    assert file.read_text() == "new"

    whole.unlink(missing_ok=True)
    whole.write_text("newer")
    with pytest.raises(KeepingRefused, match="is there already"):
        places.put(whole, file)
    assert file.read_text() == "new"


def test_what_a_killed_process_left_is_swept_and_what_a_living_one_works_on_is_not(tmp_path):
    dead, living = tmp_path / f"{places.BEGUN}dead", tmp_path / f"{places.BEGUN}living"
    for folder in (dead, living):
        folder.mkdir()
        (folder / places.LOCK).touch()
        (folder / "half.zip").touch()
    with (living / places.LOCK).open() as held:
        fcntl.flock(held, fcntl.LOCK_EX)

        with places.work_beside(tmp_path) as work:
            assert {one.name for one in tmp_path.iterdir()} == {living.name, work.name}

    assert [one.name for one in tmp_path.iterdir()] == [living.name]


def test_the_newest_are_kept_and_nothing_that_is_not_ours_is_touched(tmp_path):
    ours = [tmp_path / places.named_after(datetime(2027, 10, day, tzinfo=UTC)) for day in range(1, 6)]
    others = [tmp_path / name for name in ("mine.zip", "kitshare-old.zip", "kitshare-20271001-000000.zip.part")]
    for file in ours + others:
        file.touch()

    dropped = places.drop_old(tmp_path, keep=2, newest=ours[-1])

    assert dropped == ours[2::-1]
    assert set(tmp_path.iterdir()) == {*ours[3:], *others}


@pytest.mark.parametrize("keep", [1, 2])
def test_after_a_clock_that_was_wrong_the_one_just_made_stays(tmp_path, keep):
    made = tmp_path / places.named_after(AT)
    ahead = tmp_path / places.named_after(AT + timedelta(days=9000))
    for file in (made, ahead):
        file.touch()

    places.drop_old(tmp_path, keep=keep, newest=made)

    assert set(tmp_path.iterdir()) == {made, ahead} if keep == 2 else {made}

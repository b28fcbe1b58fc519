"""The file of a backup: whatever was damaged, cut, made by others or by a newer version is refused with one sentence."""

import hashlib
import io
import json
import random
import zipfile
from datetime import UTC, datetime

import pytest

from kitshare.keeping import archive as archives
from kitshare.keeping import manifest as manifests
from kitshare.keeping.archive import DIGITS, SEAL, Writer, seal, verify
from kitshare.keeping.manifest import Manifest
from kitshare.keeping.refusals import KeepingRefused
from kitshare.keeping.restoring import looked_over

AT = datetime(2027, 10, 30, 23, 0, 0, 123456, tzinfo=UTC)
PHOTO = "faults/2027/10/ä b.jpg"
MADE = {"made_at": AT, "engine": "sqlite", "rows": {"kits_part": 3}, "migrations": [("kits", "0001_initial")]}


@pytest.fixture
def file(tmp_path):
    """A whole backup, though small: what it calls its database is none, at which nobody looks here."""
    place = tmp_path / "one.zip"
    with Writer(place) as writer:
        writer.add("database.sqlite3", io.BytesIO(b"rows" * 100))
        writer.add("settings.json", io.BytesIO(b"{}"))
        writer.add(f"photos/{PHOTO}", io.BytesIO(b"light" * 50))
        writer.finish(Manifest(contents=writer.contents, **MADE))
    return place


def refusal(file) -> str:
    with pytest.raises(KeepingRefused) as refused, looked_over(file):
        pass
    assert "\n" not in str(refused.value)
    return str(refused.value)


def test_what_was_put_in_comes_out(file):
    opened = verify(file)

    assert (opened.manifest.made_at, opened.manifest.engine) == (AT, "sqlite")
    assert (opened.manifest.rows, opened.manifest.migrations) == (MADE["rows"], MADE["migrations"])
    assert list(opened.manifest.photos) == [PHOTO]
    assert opened.open(f"photos/{PHOTO}").read() == b"light" * 50
    opened.close()


def test_any_other_program_opens_it_and_finds_the_sums_in_it_right(file):
    with zipfile.ZipFile(file) as other:
        assert other.testzip() is None
        told = json.loads(other.read("manifest.json"))
        for name, of in told["contents"].items():
            assert hashlib.sha256(other.read(name)).hexdigest() == of["sha256"]


def test_every_bit_that_turns_over_is_seen(file, tmp_path):
    whole = file.read_bytes()
    chance = random.Random(7)

    for place in {*chance.sample(range(len(whole)), 300), *range(len(whole) - 130, len(whole)), *range(40)}:
        damaged = bytearray(whole)
        damaged[place] ^= 1 << chance.randrange(8)
        (tmp_path / "damaged.zip").write_bytes(damaged)
        assert "damaged" in (said := refusal(tmp_path / "damaged.zip")) or "its end is missing" in said


def test_every_cut_and_whatever_is_put_behind_is_seen(file, tmp_path):
    whole = file.read_bytes()
    cuts = [*range(0, len(whole), 37), *range(len(whole) - 120, len(whole))]

    for cut in cuts:
        (tmp_path / "cut.zip").write_bytes(whole[:cut])
        assert "its end is missing" in refusal(tmp_path / "cut.zip")
    for more in (b"\0", b"\n", whole):
        (tmp_path / "longer.zip").write_bytes(whole + more)
        assert "damaged" in (said := refusal(tmp_path / "longer.zip")) or "its end is missing" in said


def test_what_is_not_there_is_a_folder_or_something_else_is_said(tmp_path):
    (tmp_path / "letter.zip").write_text("Dear all, the mill is back. " * 40)

    assert refusal(tmp_path / "none.zip") == f"There is no file {tmp_path / 'none.zip'}."
    assert "is a folder" in refusal(tmp_path)
    assert "is no backup that Kitshare made" in refusal(tmp_path / "letter.zip")


# What a stranger may send: sealed well, since anybody can do that.


def foreign(place, told, members, *, names=(), packed=zipfile.ZIP_STORED):
    """A file with these things in it, which says this of itself."""
    with zipfile.ZipFile(place, "w", packed) as made:
        for name, content in members:
            made.writestr(name, content)
        if told is not None:
            made.writestr("manifest.json", told if isinstance(told, bytes) else json.dumps(told))
        made.comment = SEAL + b"0" * DIGITS
    seal(place)
    return place


def said_of(members, **changes):
    contents = {name: {"size": len(of), "sha256": hashlib.sha256(of).hexdigest()} for name, of in members}
    told = {**MADE, "made_at": AT.isoformat(), "project": "1", "format": 1, "photos_missing": [], "contents": contents}
    return {**told, **changes}


GOOD = [("database.sqlite3", b"rows"), ("settings.json", b"{}"), ("photos/one.jpg", b"light")]
BEYOND = [
    "../over.jpg", "/etc/over", "photos/../../over.jpg", "photos//over.jpg", "photos/./over.jpg", "photos/a\\..\\b.jpg",
    "photos/c:over.jpg", "elsewhere/over.jpg", "photos/", "database.dump",
]  # fmt: skip


@pytest.mark.parametrize("name", BEYOND)
def test_a_name_that_leads_out_of_the_place_is_refused(tmp_path, name):
    members = [*GOOD, (name, b"over")]

    assert "no backup that Kitshare made" in refusal(foreign(tmp_path / "f.zip", said_of(members), members))


WRONG = {
    "format of another kind": {"format": "1"},
    "format of before the first": {"format": 0},
    "engine": {"engine": "paper"},
    "moment without a zone": {"made_at": "2027-10-30T23:00:00"},
    "moment": {"made_at": 7},
    "rows": {"rows": {"kits_part": -1}},
    "rows that are no number": {"rows": {"kits_part": True}},
    "migrations": {"migrations": ["kits"]},
    "nothing in it": {"contents": {}},
    "sum": {"contents": {name: {"size": 4, "sha256": "0" * 63 + "Z"} for name, _of in GOOD}},
}


def test_a_file_that_says_nonsense_of_itself_is_refused(tmp_path, subtests):
    place = tmp_path / "f.zip"
    for words, changes in WRONG.items():
        with subtests.test(words):
            assert "no backup that Kitshare made" in refusal(foreign(place, said_of(GOOD, **changes), GOOD))
    for told in (None, b"", b"[]", b"7", b"{}", b"\xff", b"[" * 100_000):
        with subtests.test(str(told)[:20]):
            assert "no backup that Kitshare made" in refusal(foreign(place, told, GOOD))


def test_a_file_whose_things_are_not_what_it_says_is_refused(tmp_path, subtests):
    place = tmp_path / "f.zip"
    with subtests.test("changed"):
        changed = [GOOD[0], GOOD[1], ("photos/one.jpg", b"night")]
        assert "photos/one.jpg in it is not what was put in" in refusal(foreign(place, said_of(GOOD), changed))
    with subtests.test("missing"):
        assert "no backup that Kitshare made" in refusal(foreign(place, said_of(GOOD), GOOD[:2]))
    with subtests.test("one more"):
        assert "no backup that Kitshare made" in refusal(foreign(place, said_of(GOOD[:2]), GOOD))
    with subtests.test("twice"), pytest.warns(UserWarning, match="Duplicate"):
        assert "no backup that Kitshare made" in refusal(foreign(place, said_of(GOOD), [*GOOD, GOOD[2]]))


def test_what_could_swell_is_not_unpacked(tmp_path, monkeypatch):
    members = [*GOOD[:2], ("photos/one.jpg", b"\0" * 30_000_000)]
    made = foreign(tmp_path / "f.zip", said_of(members), members, packed=zipfile.ZIP_DEFLATED)
    assert made.stat().st_size < 100_000
    monkeypatch.setattr(archives, "_look_at", lambda *_: pytest.fail("was unpacked"))

    assert "no backup that Kitshare made" in refusal(made)


def test_a_newer_file_is_refused_whatever_else_it_says(tmp_path):
    place = tmp_path / "f.zip"

    assert "made by a newer Kitshare (its format is 2" in refusal(foreign(place, {"format": 2, "new": "words"}, GOOD))
    newer = said_of(GOOD, migrations=[["kits", "0001_initial"], ["kits", "0999_of_another_year"]])
    assert "does not know kits.0999_of_another_year" in refusal(foreign(place, newer, GOOD))


def test_a_manifest_that_is_vast_is_not_read(tmp_path, monkeypatch):
    monkeypatch.setattr(archives, "LONGEST_MANIFEST", 100)
    monkeypatch.setattr(manifests, "read", lambda _: pytest.fail("was read"))

    assert "no backup that Kitshare made" in refusal(foreign(tmp_path / "f.zip", said_of(GOOD), GOOD))

"""The pages on which a backup is chosen, sent in and tried, and what the page of the site says of it."""

import os
import shutil
from collections import namedtuple
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.urls import reverse
from django.utils import timezone

from kitshare.keeping import kept
from kitshare.keeping.reading_back import CameBack
from kitshare.keeping.refusals import KeepingRefused
from kitshare.works import running
from kitshare.works.models import State, Work
from tests.keeping.test_rehearsing import empty_backup
from tests.keeping.test_restoring import AT
from tests.works.test_trying import NAME, ask, back  # noqa: F401  fixtures

Disk = namedtuple("Disk", "total used free")


@pytest.fixture(autouse=True)
def at_that_moment(monkeypatch, now):
    monkeypatch.setattr(timezone, "now", lambda: now)


@pytest.fixture
def folder(db, settings, tmp_path):
    settings.DATA = tmp_path
    (tmp_path / kept.BACKUPS).mkdir()
    return tmp_path


@pytest.fixture
def browser(folder, signed_in, perpetua):
    return signed_in(perpetua)


def keep(folder, name=NAME, **told):
    return empty_backup(folder / kept.BACKUPS / name, **{"rows": {"bookings_booking": 1214, "kits_part": 3}} | told)


def send(browser, data: bytes, name="holiday.zip"):
    return browser.post(reverse("watch:try"), {"file": SimpleUploadedFile(name, data)})


def sent(folder) -> list[str]:
    return sorted(os.listdir(folder / kept.SENT)) if (folder / kept.SENT).exists() else []


def test_the_list_costs_the_same_however_many_there_are(folder, browser, ask, back, now, django_assert_num_queries):  # noqa: F811
    assert "No backup is kept on this machine" in (page := browser.get(reverse("watch:try")).content.decode())
    assert "nobody knows whether one would bring the site back" in page
    for more in (1, 11):
        for number in range(more):
            keep(folder, f"kitshare-2027{more:02}{number + 1:02}-230000.zip")
        for _each in range(min(more, 6)):
            running.do(ask(NAME).pk, clock=lambda: now)
        with django_assert_num_queries(4):
            page = browser.get(reverse("watch:try")).content.decode()
    assert page.count("/status/try/kitshare-2027") == 12
    assert page.count("did not come back") == 5


def test_one_is_looked_at_first_and_then_tried_once_however_often_the_button_is_pressed(
    folder, browser, perpetua, django_assert_num_queries
):
    keep(folder)
    keep(folder, "kitshare-20270101-000000.zip")
    address = reverse("watch:try_one", args=[NAME])

    of_the_role = 1 if connection.vendor == "postgresql" else 0
    with django_assert_num_queries(3 + of_the_role):
        page = browser.get(address).content.decode()
    answers = [browser.post(address) for _ in range(2)]
    other = browser.post(reverse("watch:try_one", args=["kitshare-20270101-000000.zip"]), follow=True)

    assert "1,214 bookings" in page
    assert "Whether it is true, the try shows." in page
    work = Work.objects.get()
    assert (work.keys, work.asked_by, work.state) == ({"file": NAME}, perpetua, State.ASKED)
    assert [one["Location"] for one in answers] == [reverse("works:show", args=[work.pk])] * 2
    assert "Another backup is being tried" in other.content.decode()


def test_what_cannot_be_tried_has_no_button_and_says_why(folder, browser, monkeypatch, subtests):
    keep(folder, "kitshare-20270101-000000.zip", migrations=[("kits", "9999_later")])
    (folder / kept.BACKUPS / "kitshare-20270102-000000.zip").write_bytes(b"nothing")
    for name, words in (
        ("kitshare-20270101-000000.zip", "made by a newer Kitshare"),
        ("kitshare-20270102-000000.zip", "kitshare-20270102-000000.zip is no backup that Kitshare made"),
    ):
        with subtests.test(name):
            page = browser.get(reverse("watch:try_one", args=[name])).content.decode()
            assert words in page
            assert str(folder) not in page
            assert '<button type="submit">' not in page
            assert browser.post(reverse("watch:try_one", args=[name])).status_code == 409
    keep(folder)
    monkeypatch.setattr(shutil, "disk_usage", lambda _place: Disk(1, 1, 1_000_000))
    assert "1 MB are" in browser.get(reverse("watch:try_one", args=[NAME])).content.decode()
    for name in ("kitshare-20200101-000000.zip", "sent-" + "0" * 32, "..", "last-backup.json"):
        assert browser.get(f"/status/try/{name}/").status_code == 404
    assert not Work.objects.exists()


def test_where_several_machines_share_the_site_it_is_said_that_a_backup_lies_on_one(folder, browser, settings):
    said = "Several machines share this site"

    assert said not in browser.get(reverse("watch:try")).content.decode()
    settings.SEVERAL_HOSTS = True
    assert said in browser.get(reverse("watch:try")).content.decode()


def test_a_data_folder_that_is_not_there_yet_is_made(browser, folder, settings):
    data = keep(folder).read_bytes()
    settings.DATA = folder / "not/yet"

    assert send(browser, data).status_code == 302
    assert browser.get(reverse("watch:try")).status_code == 200
    assert len(sent(settings.DATA)) == 1


def test_a_file_that_is_sent_goes_to_the_disk_under_a_name_of_ours(folder, browser):
    data = keep(folder).read_bytes()

    answer = send(browser, data, name="../../etc/holiday.zip")

    (name,) = sent(folder)
    assert kept.is_sent(name)
    assert answer["Location"] == reverse("watch:try_one", args=[name])
    assert (folder / kept.SENT / name).read_bytes() == data
    assert oct((folder / kept.SENT / name).stat().st_mode)[-3:] == "600"
    assert "1,214 bookings" in browser.get(answer["Location"]).content.decode()
    browser.post(answer["Location"])
    assert Work.objects.get().keys == {"file": name}


def test_what_is_no_backup_too_large_or_too_much_for_the_disk_is_refused_beside_the_field(
    folder, browser, settings, monkeypatch
):
    data = keep(folder).read_bytes()
    newer = keep(folder, "kitshare-20270101-000000.zip", migrations=[("kits", "9999_later")]).read_bytes()
    dump = empty_backup(folder / "dump.zip", engine="postgresql").read_bytes()
    refused = {
        "no backup that Kitshare made": send(browser, b"PK of another kind" * 99),
        "its end is missing": send(browser, data[:-1]),
        "made by a newer Kitshare": send(browser, newer),
        "A dump of PostgreSQL does whatever it says": send(browser, dump),
        "Choose the file.": browser.post(reverse("watch:try"), {"other": SimpleUploadedFile("a.zip", data)}),
    }
    settings.BACKUP_MAX_BYTES = 1_000_000
    refused["1 MB at most"] = send(browser, b"x" * 1_000_001)
    monkeypatch.setattr(shutil, "disk_usage", lambda _place: Disk(1, 1, 1_000_000))
    refused["There is no room for so large a file"] = send(browser, data)

    for words, answer in refused.items():
        assert answer.status_code == 422
        assert words in answer.content.decode()
        assert str(folder) not in answer.content.decode()
    assert sent(folder) == []
    assert not Work.objects.exists()


def test_a_disk_that_fills_while_a_file_comes_takes_it_back_and_says_so(folder, browser, monkeypatch):
    class Full:
        def __init__(self, name):
            self.name = name

        def write(self, _data):
            raise OSError(28, "No space left on device")

        def close(self):
            pass

    def full(prefix, dir, delete):
        (dir / "part-x").touch()
        return Full(str(dir / "part-x"))

    monkeypatch.setattr("tempfile.NamedTemporaryFile", full)

    answer = send(browser, keep(folder).read_bytes())

    assert answer.status_code == 422
    assert "There is no room for so large a file" in answer.content.decode()
    assert sent(folder) == []


def test_a_form_from_elsewhere_is_not_taken(folder, client, perpetua):
    client.handler.enforce_csrf_checks = True
    client.force_login(perpetua)

    answer = send(client, keep(folder).read_bytes())

    assert answer.status_code == 403
    assert sent(folder) == []


def test_only_coordinators_try_backups(folder, signed_in, sunniva, teodor, client):
    keep(folder)
    addresses = [reverse("watch:try"), reverse("watch:try_one", args=[NAME])]
    for somebody in (sunniva, teodor):
        browser = signed_in(somebody)
        assert {browser.get(one).status_code for one in addresses} == {403}
        assert send(browser, b"x").status_code == 403
        assert browser.post(addresses[1]).status_code == 403
    client.logout()
    assert {client.get(one).status_code for one in addresses} == {302}
    assert sent(folder) == []


def test_the_page_of_a_try_shows_what_came_back_beside_what_the_site_has(
    folder,
    browser,
    ask,  # noqa: F811
    back,  # noqa: F811
    now,
    agreed_booking,
    django_assert_num_queries,
):
    told = {"people_village": 9, "bookings_booking": 1214}
    back["told"] = CameBack(AT, "0.1.0", "sqlite", told, told, 31, 2, 1)
    keep(folder)
    work = ask(NAME)
    running.do(work.pk, clock=lambda: now)

    with django_assert_num_queries(5):
        page = browser.get(reverse("works:show", args=[work.pk])).content.decode()

    shown = " ".join(page.split())
    assert (
        '<th scope="row">Bookings</th><td class="number">1,214</td><td class="number">1,214</td><td class="number">1<'
        in shown
    )
    assert '<th scope="row">Rows in all</th><td class="number">1,223</td>' in shown
    assert "2 photos were not in the file" in shown
    assert "older than this version by 1 step," in shown
    assert "Perpetua Quillstone asked for it" in shown


def test_the_page_of_the_site_says_when_a_backup_was_last_tried(folder, browser, ask, back, now, monkeypatch):  # noqa: F811
    status = reverse("watch:status")
    assert "<dt>Last backup tried</dt><dd>never yet</dd>" in (page := browser.get(status).content.decode())
    assert reverse("watch:try") in page
    keep(folder)
    good = ask(NAME)
    running.do(good.pk, clock=lambda: now)
    monkeypatch.setattr(timezone, "now", lambda: now + timedelta(days=21))
    page = browser.get(status).content.decode()
    assert "Wed 1 Sep, 09:30 (21 days ago): the one of Sat 30 Oct, 23:00 came back" in page
    assert reverse("works:show", args=[good.pk]) in page

    back["told"] = KeepingRefused("It is damaged. Take another.")
    running.do(ask(NAME).pk, clock=lambda: now + timedelta(days=20))
    page = browser.get(status).content.decode()

    assert "(24 hours ago): it did not come back" in page
    assert "The last try of a backup did not bring it back. It is damaged. Take another." in page

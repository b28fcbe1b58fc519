"""In which language somebody is told. German is only borrowed for these tests: Django itself knows its names of days."""

import pytest
from django.utils import translation

from kitshare.outbox import actions as outbox
from kitshare.outbox.models import Message
from kitshare.outbox.speaking import in_each_language, language_of
from kitshare.people.models import Member


@pytest.fixture(autouse=True)
def two_languages(settings):
    settings.LANGUAGES = [("en-gb", "English"), ("de", "Deutsch")]


def speaks(member: Member, language: str) -> Member:
    member.language = language
    member.save(update_fields=["language"])
    return member


def test_each_is_told_once_in_the_language_they_chose(perpetua, sunniva, teodor, now):
    everybody = [speaks(perpetua, ""), speaks(sunniva, "de"), speaks(teodor, "xx")]  # one that the site lost again

    @in_each_language
    def tell() -> None:
        for member in everybody:
            subject = translation.get_language()
            outbox.queue(key=f"one:{member.pk}", to=member, subject=subject, body="Words.", at=now)

    tell()

    told = dict(Message.objects.values_list("to_name", "subject"))
    assert told == {"Perpetua Quillstone": "en-gb", "Sunniva Okparadine": "de", "Teodor Haskerby": "en-gb"}
    assert language_of("xx") == "en-gb"


def test_what_is_written_outside_of_it_is_kept_whatever_the_language(sunniva, now):
    assert outbox.queue(key="one", to=speaks(sunniva, "de"), subject="Words", body="Words.", at=now) is not None

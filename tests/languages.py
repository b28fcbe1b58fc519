"""A second language for tests: German as far as Django knows it (names of days), and every sentence of ours marked."""

import pytest
from django.utils.translation import trans_real

from kitshare.outbox.models import Message
from kitshare.outbox.speaking import language_of
from kitshare.people.models import Member


class Marked:
    """A catalogue in which each sentence is «itself»."""

    def __init__(self, real):
        self._real = real

    def __getattr__(self, name):
        return getattr(self._real, name)

    def gettext(self, sentence):
        return f"«{sentence}»"

    def ngettext(self, one, many, count):
        return f"«{one if count == 1 else many}»"


@pytest.fixture
def two_languages(settings, monkeypatch):
    """Says who reads the second one: `two_languages(sunniva)`."""
    settings.LANGUAGES = [("en-gb", "English"), ("de", "Deutsch")]
    monkeypatch.setitem(trans_real._translations, "de", Marked(trans_real.translation("de")))

    def reads(*members: Member) -> None:
        for member in members:
            member.language = "de"
            member.save(update_fields=["language"])

    return reads


def check_letters(*words: str) -> None:
    """Every such letter is in the language of its reader, line by line; and there are some in each.

    Of others a line may be a record, as the note of a fault is that a check found: kept as it was written.
    """
    letters = [letter for letter in Message.objects.order_by("pk") if letter.key.startswith(words)]
    for word in words:
        assert {language_of(one.language) for one in letters if one.key.startswith(word)} == {"en-gb", "de"}, word
    for letter in letters:
        lines = [letter.subject, *letter.body.strip().split("\n\n")]
        if language_of(letter.language) == "de":
            assert [line for line in lines if not line.startswith("«")] == [], letter.key
        else:
            assert [line for line in lines if "«" in line] == [], letter.key

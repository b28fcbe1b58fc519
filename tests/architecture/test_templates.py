"""Every word that a person reads is marked for translation."""

import re

import pytest
from django.test import RequestFactory
from django.views.defaults import server_error

from tests.architecture.source import ROOT

TEMPLATES = sorted(file for file in (ROOT / "templates").rglob("*.*") if file.suffix in {".html", ".txt"})
MARKED = re.compile(r"{%\s*blocktranslate\b.*?{%\s*endblocktranslate\s*%}", re.S)
COMMENT = re.compile(r"{#.*?#}|{%\s*comment\s*%}.*?{%\s*endcomment\s*%}|<!--.*?-->", re.S)
TEMPLATE = re.compile(r"{%.*?%}|{{.*?}}", re.S)
READ_ALOUD = re.compile(r"\b(?:aria-label|alt|title|placeholder)=(?:\"([^\"]*)\"|'([^']*)')")
# A tag that opens in one branch and ends in another leaves its classes behind.
CLASS = re.compile(r"class=\"[^\"]*\"")
TAG = re.compile(r"<[^>]*>", re.S)
# Names and addresses, which are the same in every language.
SAME_EVERYWHERE = re.compile(r"&\w+;|\S+@example\.org|linnow-apples|Kitshare|charset|utf-8")
WORD = re.compile(r"[^\W\d_]{3,}")


def unmarked(text: str) -> list[str]:
    """The words of a template that a translator would never see."""
    text = TEMPLATE.sub(" ", MARKED.sub(" ", COMMENT.sub(" ", text)))
    spoken = " ".join("".join(pair) for pair in READ_ALOUD.findall(text))
    written = TAG.sub(" ", CLASS.sub(" ", text))
    return WORD.findall(SAME_EVERYWHERE.sub(" ", f"{written} {spoken}"))


@pytest.mark.parametrize("file", TEMPLATES, ids=lambda file: file.relative_to(ROOT).as_posix())
def test_every_word_is_marked_for_translation(file):
    assert unmarked(file.read_text()) == []


def test_the_test_itself_sees_what_is_not_marked():
    assert unmarked('<p title="Hello">{% translate "Good day" %}</p> and {{ more }}') == ["and", "Hello"]


def test_the_page_for_a_breakage_needs_nothing_that_may_be_broken():
    """No database, no scheme, nobody signed in."""
    assert "telephone the coordinator" in server_error(RequestFactory().get("/")).content.decode()

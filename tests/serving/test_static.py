"""Styles and scripts while releases change."""

import pytest
from django.http import HttpResponse

from kitshare.serving.static import FilesOfEveryRelease

HASHED = "kitshare/base.0123456789ab.css"


@pytest.fixture
def answer(settings, tmp_path, rf):
    """What a process that began with one style sheet answers."""
    settings.STATIC_ROOT, settings.WHITENOISE_AUTOREFRESH = tmp_path / "static", False
    (tmp_path / "static/kitshare").mkdir(parents=True)
    (tmp_path / "static/kitshare/old.ba9876543210.css").write_text("old")
    (tmp_path / "secret-key").write_text("secret")
    process = FilesOfEveryRelease(lambda request: HttpResponse("the site's own answer", status=404))

    def answer(path):
        said = process(rf.get("/static/" + path))
        words = said.getvalue()
        if hasattr(said, "file_to_stream"):
            said.file_to_stream.close()
        return said.status_code, words, said.get("Cache-Control")

    return answer


def test_what_a_later_release_collects_is_answered_by_the_one_that_still_runs(answer, settings):
    before = answer(HASHED)
    (settings.STATIC_ROOT / HASHED).write_text("new")

    after = answer(HASHED)

    assert before[0] == 404
    assert after == (200, b"new", "max-age=60, public")  # it is immutable to the release that knows its name
    assert answer("kitshare/old.ba9876543210.css")[:2] == (200, b"old")


def test_nothing_beside_the_collected_files_is_given_out(answer):
    for path in ("../secret-key", "..%2fsecret-key", "kitshare/../../secret-key", "kitshare", "", "a\0b", "x" * 300):
        assert answer(path)[0] == 404, path

"""The files of the site's own pages, and a word that changes whenever one of them does."""

import functools
import hashlib
from dataclasses import dataclass
from typing import Final

from django.contrib.staticfiles.finders import get_finders
from django.contrib.staticfiles.storage import staticfiles_storage
from django.template.loader import get_template

from kitshare.people.models import Scheme

OURS: Final = ("kitshare/", "django_htmx/htmx-2.min.js")
# What the page for a place without signal says, besides the scheme's own words.
TEMPLATES: Final = ("phone/offline.html", "base.html", "components/frame_top.html")


@dataclass(frozen=True, slots=True)
class OwnFiles:
    """Where a phone fetches the files, and the digest of all that is in them."""

    addresses: list[str]
    digest: str


@functools.cache
def own_files() -> OwnFiles:
    """Every style, script and drawing of the site. Read once for each process: files change by a new start."""
    found = {
        path: storage
        for finder in get_finders()
        for path, storage in finder.list(["*.map", ".*"])
        if path.startswith(OURS)
    }
    whole = hashlib.sha256()
    for path in sorted(found):
        with found[path].open(path) as file:
            whole.update(path.encode() + b"\0" + hashlib.sha256(file.read()).digest())
    for name in TEMPLATES:
        whole.update(get_template(name).template.source.encode())  # type: ignore[attr-defined]
    return OwnFiles([staticfiles_storage.url(path) for path in sorted(found)], whole.hexdigest())


def version(scheme: Scheme | None) -> str:
    """Of all that a phone keeps of the site itself; another telephone number of the coordinator is another version."""
    said = [scheme.name, scheme.telephone, str(scheme.is_demonstration)] if scheme else []
    return hashlib.sha256("\0".join([own_files().digest, *said]).encode()).hexdigest()[:16]

"""How styles and scripts are named when the site runs, by what is in them, and how they are answered."""

import os
from typing import Final

from django.http import HttpRequest, HttpResponseBase
from whitenoise.middleware import WhiteNoiseMiddleware
from whitenoise.storage import CompressedManifestStaticFilesStorage

IMPORTED: Final = (r"""(?P<matched>\bfrom "(?P<url>\./[^"]+)")""", 'from "%(url)s"')


class HashedFiles(CompressedManifestStaticFilesStorage):
    """A script that imports another names it by its hash too: a phone never mixes the scripts of two versions."""

    patterns = (*CompressedManifestStaticFilesStorage.patterns, ("kitshare/phone/*.js", (IMPORTED,)))


class FilesOfEveryRelease(WhiteNoiseMiddleware):
    """Answers also what was collected after this process began.

    While a server is upgraded, a page of the new release may come from one process, and its style sheet be asked of
    another that still runs the one before.
    """

    def __call__(self, request: HttpRequest) -> HttpResponseBase:  # type: ignore[override]
        if not self.autorefresh and request.path_info not in self.files and self._has_come(request.path_info):
            self.add_files(self.static_root, prefix=self.static_prefix)  # type: ignore[no-untyped-call]
        answer: HttpResponseBase = super().__call__(request)  # type: ignore[no-untyped-call]
        return answer

    def _has_come(self, address: str) -> bool:
        if not address.startswith(self.static_prefix) or "\0" in address:
            return False
        root = os.path.realpath(self.static_root)
        file = os.path.realpath(os.path.join(root, address.removeprefix(self.static_prefix)))
        return file.startswith(f"{root}{os.sep}") and os.path.isfile(file)

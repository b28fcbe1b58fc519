"""How styles and scripts are named when the site runs: by what is in them."""

from typing import Final

from whitenoise.storage import CompressedManifestStaticFilesStorage

IMPORTED: Final = (r"""(?P<matched>\bfrom "(?P<url>\./[^"]+)")""", 'from "%(url)s"')


class HashedFiles(CompressedManifestStaticFilesStorage):
    """A script that imports another names it by its hash too: a phone never mixes the scripts of two versions."""

    patterns = (*CompressedManifestStaticFilesStorage.patterns, ("kitshare/phone/*.js", (IMPORTED,)))

"""How styles and scripts are named when the site runs: by what is in them."""

from whitenoise.storage import CompressedManifestStaticFilesStorage


class HashedFiles(CompressedManifestStaticFilesStorage):
    """A script that imports another names it by its hash too: a phone never mixes the scripts of two versions."""

    support_js_module_import_aggregation = True

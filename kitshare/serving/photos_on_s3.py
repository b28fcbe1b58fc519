"""Photos on storage that speaks S3, for servers that share the work: nothing of it lies on one machine's disk.

Whatever goes wrong there is an OSError to the rest of the site, as if a disk were full or gone: the pages have words
for that already, and no sheet depends on its photos.
"""

import functools
import io
from collections.abc import Callable
from pathlib import PurePosixPath
from typing import Any, Final, ParamSpec, TypeVar

from boto3.exceptions import Boto3Error
from botocore.config import Config
from botocore.exceptions import BotoCoreError, ClientError
from django.core.files.base import File
from storages.backends.s3 import S3Storage

P = ParamSpec("P")
R = TypeVar("R")

# Somebody waits in a yard: better an early word than a long silence. A photo has half a megabyte at most.
PATIENCE: Final = {"connect_timeout": 3, "read_timeout": 10, "retries": {"max_attempts": 2, "mode": "standard"}}
# Storage of other makers knows neither the newer sums over what is sent nor buckets as names of hosts.
OF_OTHER_MAKERS: Final = {
    "request_checksum_calculation": "when_required",
    "response_checksum_validation": "when_required",
    "s3": {"addressing_style": "path"},
}
GONE: Final = {"404", "NoSuchKey", "NotFound"}


def _as_a_disk(method: Callable[P, R]) -> Callable[P, R]:
    """What the storage says went wrong, as a disk would say it."""

    @functools.wraps(method)
    def tried(*args: P.args, **kwargs: P.kwargs) -> R:
        try:
            return method(*args, **kwargs)
        except ClientError as error:
            if str(error.response.get("Error", {}).get("Code")) in GONE:
                raise FileNotFoundError(str(error)) from error
            raise OSError(f"The photo storage refused: {error}") from error
        except (BotoCoreError, Boto3Error) as error:
            raise OSError(f"The photo storage cannot be reached: {error}") from error

    return tried


class PhotosOnS3(S3Storage):  # type: ignore[misc]
    """A private bucket, which is asked to take, give and drop a photo; and by a restore whether it is empty."""

    def __init__(self, **options: Any) -> None:
        of_others = OF_OTHER_MAKERS if options.get("endpoint_url") else {}
        config = Config(signature_version="s3v4", **PATIENCE, **of_others)
        super().__init__(client_config=config, default_acl=None, querystring_auth=True, **options)

    def get_available_name(self, name: str, max_length: int | None = None) -> str:
        """Never a name that was used: two who save under one key at once do not write over each other."""
        path = PurePosixPath(name)
        other = str(self.get_alternative_name(str(path.with_suffix("")), path.suffix))
        if max_length is not None and len(other) > max_length:
            raise ValueError(f"{other} is longer than a name may be.")
        return other

    @_as_a_disk
    def _open(self, name: str, mode: str = "rb") -> "File[bytes]":
        """The whole picture, so that an answer that has begun cannot break off."""
        if mode != "rb":
            raise ValueError("A photo is read, or saved as a whole.")
        taken = self.bucket.Object(self._normalize_name(name)).get()["Body"].read()
        return File(io.BytesIO(taken), name=name)

    @_as_a_disk
    def _save(self, name: str, content: "File[bytes]") -> str:
        return str(super()._save(name, content))

    @_as_a_disk
    def listdir(self, name: str) -> tuple[list[str], list[str]]:
        folders, files = super().listdir(name)
        return list(folders), list(files)

    @_as_a_disk
    def delete(self, name: str) -> None:
        super().delete(name)

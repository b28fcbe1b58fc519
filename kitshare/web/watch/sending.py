"""A backup that a coordinator sends in: it goes to the disk of the data folder as it comes, and is bounded."""

import tempfile
import uuid
from contextlib import suppress
from pathlib import Path
from typing import IO, Any, Final

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.core.files.uploadhandler import FileUploadHandler, SkipFile
from django.http import HttpRequest
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from kitshare.keeping import kept
from kitshare.keeping.places import free_bytes
from kitshare.keeping.refusals import NO_ROOM, KeepingRefused
from kitshare.keeping.rehearsing import ROOM_FOR_THE_SITE, check_readable

FIELD: Final = "file"


class SentBackup(UploadedFile):  # type: ignore[type-arg]
    """A file that lies in the folder of those that were sent, until it is kept or closed."""

    def __init__(self, part: IO[bytes], name: str, size: int) -> None:
        super().__init__(file=part, name=name, size=size)
        self.place = Path(part.name)

    def keep(self) -> str:
        """Give it the name under which it can be tried."""
        name = f"sent-{uuid.uuid4().hex}"
        self.place.rename(self.place.with_name(name))
        return name

    def close(self) -> None:
        self.file.close()  # type: ignore[union-attr]
        self.place.unlink(missing_ok=True)


class OntoTheDisk(FileUploadHandler):
    """Takes one file in, or none and says why: what is too large is read and dropped, so that a page can say so."""

    refusal = ""

    def handle_raw_input(
        self, input_data: Any, headers: Any, content_length: int, boundary: str, encoding: str | None = None
    ) -> None:
        self.most = settings.BACKUP_MAX_BYTES
        if content_length > self.most:
            self.refusal = too_large()
        elif free_bytes(Path(settings.DATA)) < content_length + ROOM_FOR_THE_SITE:
            self.refusal = no_room()

    def new_file(self, field_name: str, *args: Any, **kwargs: Any) -> None:
        super().new_file(field_name, *args, **kwargs)
        if self.refusal or field_name != FIELD:
            raise SkipFile
        folder = kept.sent_folder()
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        self.part = tempfile.NamedTemporaryFile(prefix="part-", dir=folder, delete=False)  # noqa: SIM115

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes | None:
        try:
            self.part.write(raw_data)
        except OSError as wrong:
            self.upload_interrupted()
            if wrong.errno not in NO_ROOM:
                raise
            self.refusal = no_room()
            raise SkipFile from wrong
        return None

    def file_complete(self, file_size: int) -> SentBackup | None:
        if self.refusal or not hasattr(self, "part"):
            return None
        self.part.flush()
        return SentBackup(self.part, self.file_name or "", file_size)

    def upload_interrupted(self) -> None:
        if hasattr(self, "part"):
            with suppress(OSError):
                self.part.close()
            Path(self.part.name).unlink(missing_ok=True)


def too_large() -> str:
    words = gettext(
        "A backup that is sent in may have %(most)d MB at most. Whoever runs the server can put it among the backups "
        "that are kept there, or raise KITSHARE_BACKUP_MAX_MB."
    )
    return words % {"most": settings.BACKUP_MAX_BYTES // 1_000_000}


def no_room() -> str:
    return gettext(
        "There is no room for so large a file where the site's data lie. Whoever runs the server makes some."
    )


class SendForm(forms.Form):
    """Takes a file whose own words are those of a backup that this version can read."""

    file = forms.FileField(label=_("A backup file"), widget=forms.FileInput(attrs={"accept": ".zip"}))

    def __init__(self, *args: Any, refusal: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields[FIELD].error_messages["required"] = refusal or gettext("Choose the file.")
        most = settings.BACKUP_MAX_BYTES // 1_000_000
        self.fields[FIELD].help_text = gettext("A .zip that Kitshare made; %(most)d MB at most.") % {"most": most}

    def clean_file(self) -> SentBackup:
        sent = self.cleaned_data[FIELD]
        try:
            check_readable(sent.place, is_sent=True)
        except KeepingRefused as refusal:
            raise ValidationError(str(refusal).replace(str(sent.place), gettext("The file"))) from refusal
        return sent  # type: ignore[no-any-return]


def taken_in(request: HttpRequest) -> OntoTheDisk:
    """Before anything is read of what was sent: have it go to the data folder, not to a scratch folder in memory."""
    handler = OntoTheDisk(request)
    request.upload_handlers = [handler]
    return handler

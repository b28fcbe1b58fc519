"""How a kept photo is answered. Who may see it, the page asks first."""

from uuid import UUID

from django.db.models.fields.files import ImageFieldFile
from django.http import FileResponse, Http404, HttpResponse
from django.utils.translation import gettext as _


def photo_answer(image: ImageFieldFile, key: UUID) -> FileResponse | HttpResponse:
    """The picture itself. It never changes under its key, so a phone may keep it; nobody in between may.

    Where its storage does not answer, the words say so, and nobody keeps them in the picture's place.
    """
    try:
        picture = image.open("rb")
    except FileNotFoundError as error:
        raise Http404 from error
    except OSError:
        words = _("The photo cannot be fetched just now. It is kept: try again in a while.")
        away = HttpResponse(words, status=503, content_type="text/plain; charset=utf-8")
        away["Retry-After"] = "30"
        away["Cache-Control"] = "no-store"
        return away
    answer = FileResponse(picture, content_type="image/jpeg", filename=f"{key}.jpg")
    answer["Cache-Control"] = "private, max-age=31536000, immutable"
    answer["X-Content-Type-Options"] = "nosniff"
    return answer

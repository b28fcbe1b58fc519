"""Photos on storage that speaks S3, played by moto in this process; and what is said where that storage does not answer."""

import io
import json
import re
import socket
import uuid
from datetime import timedelta
from pathlib import Path

import boto3
import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.urls import reverse
from moto import mock_aws
from PIL import Image

from kitshare.bookings.models import Booking
from kitshare.checks import actions as checks
from kitshare.checks import sweeping
from kitshare.checks.models import HandoverCheck, Photo
from kitshare.checks.photos import PhotoNotStored
from kitshare.kits.models import Part
from kitshare.kits.part_pictures import give_picture
from kitshare.upkeep.models import Fault
from kitshare.upkeep.photo_models import FaultPhoto
from tests.checks.sheets import picture, upload
from tests.web.checks import conftest as pages

pytestmark = pytest.mark.one_engine

BUCKET = "kitshare-photos"
clock, filled, parts, pickup_address = pages.clock, pages.filled, pages.parts, pages.pickup_address
GUIDE = Path(__file__).resolve().parents[2] / "deploy" / "SERVER.md"


@pytest.fixture
def on_s3(settings):
    """The site's photos lie in this bucket from now on, at this address where one is given."""

    def on_s3(**changes):
        options = {
            "bucket_name": BUCKET,
            "location": "site",
            "endpoint_url": None,
            "region_name": "us-east-1",
            "access_key": "a key",
            "secret_key": "its secret",
        }
        lying = {"BACKEND": "kitshare.serving.photos_on_s3.PhotosOnS3", "OPTIONS": options | changes}
        settings.STORAGES = {**settings.STORAGES, "default": lying}
        return default_storage

    return on_s3


@pytest.fixture
def bucket():
    with mock_aws():
        made = boto3.resource("s3", region_name="us-east-1").Bucket(BUCKET)
        made.create()
        yield made


@pytest.fixture
def nobody_answers():
    """An address at which nothing listens."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        yield f"http://127.0.0.1:{taken.getsockname()[1]}"


@pytest.fixture
def keep(agreed_booking, sunniva, now):
    def keep(content=None, **changes):
        asked = {"booking": agreed_booking, "upload": upload(content or picture()), "by": sunniva, "at": now}
        return checks.keep_photo(**(asked | changes))

    return keep


def test_every_kind_of_photo_goes_there_and_comes_back_by_our_pages_alone(
    on_s3, bucket, keep, signed_in, sunniva, lead, mill, perpetua, teodor, now, settings, tmp_path
):
    storage, asked = on_s3(), set()
    storage.connection.meta.client.meta.events.register("before-call.s3", lambda model, **_: asked.add(model.name))
    browser = signed_in(sunniva)

    photo = keep()
    give_picture(part=lead, upload=upload(picture()), by=perpetua, at=now)
    browser.post(
        reverse("upkeep:report", args=[mill.pk]),
        {"severity": "looks_only", "note": "a scratch", "photo": upload(picture())},
    )

    names = sorted(thing.key for thing in bucket.objects.all())
    assert [name.split("/")[:2] for name in names] == [["site", "checks"], ["site", "faults"], ["site", "parts"]]
    assert not settings.MEDIA_ROOT.exists()
    answer = browser.get(reverse("checks:photo", args=[photo.key]))
    shown = Image.open(io.BytesIO(answer.getvalue()))
    assert (shown.format, answer["Cache-Control"]) == ("JPEG", "private, max-age=31536000, immutable")
    stored = bucket.Object(names[0])
    assert [grant["Grantee"]["Type"] for grant in stored.Acl().grants] == [
        "CanonicalUser"
    ]  # its owner, and nobody else

    give_picture(part=Part.objects.get(pk=lead.pk), upload=upload(picture((30, 20))), by=perpetua, at=now)
    assert asked <= rights_that_the_guide_gives()
    assert {"PutObject", "GetObject"} <= asked


def rights_that_the_guide_gives() -> set[str]:
    """The actions of the policy that is printed in SERVER.md."""
    policy = json.loads(re.search(r"```json\n(.*?)```", GUIDE.read_text(), re.DOTALL)[1])
    return {action.removeprefix("s3:") for action in policy["Statement"][0]["Action"]}


def test_a_name_is_used_once(on_s3, bucket):
    storage = on_s3()

    first, second = (storage.save("checks/a.jpg", ContentFile(text)) for text in (b"one", b"two"))

    assert first != second
    assert (storage.open(first).read(), storage.open(second).read()) == (b"one", b"two")
    with pytest.raises(FileNotFoundError):
        storage.open("checks/b.jpg")
    with pytest.raises(ValueError, match="longer than"):
        storage.save("x" * 100 + ".jpg", ContentFile(b""), max_length=100)


def test_where_the_storage_does_not_answer_the_pages_say_so_and_lose_nothing(
    on_s3, bucket, nobody_answers, keep, signed_in, sunniva, lead, filled, pickup_address, mill, now
):
    on_s3()
    photo = keep()
    on_s3(endpoint_url=nobody_answers)
    browser = signed_in(sunniva)

    with pytest.raises(PhotoNotStored):
        keep(picture((40, 30)))
    seen = browser.get(reverse("checks:photo", args=[photo.key]))
    assert (seen.status_code, seen["Cache-Control"]) == (503, "no-store")
    assert "It is kept" in seen.content.decode()
    from_a_phone = browser.post(
        reverse("checks:keep_photo", args=[photo.booking_id]),
        {"photo": upload(picture((50, 30))), "key": str(uuid.uuid4())},
    )
    assert (from_a_phone.status_code, from_a_phone.json()["final"]) == (422, False)  # the phone sends it again
    sheet = filled(**{f"p{lead.pk}-photo": upload(picture((60, 30))), f"p{lead.pk}-note": "see the photo"})
    page = browser.post(pickup_address, sheet).content.decode()
    assert "The check can be finished without it" in page
    assert 'value="see the photo"' in page
    sheet.pop(f"p{lead.pk}-photo")
    assert browser.post(pickup_address, sheet).status_code == 302
    assert HandoverCheck.objects.count() == 1
    told = {"severity": "looks_only", "note": "a scratch", "photo": upload(picture((70, 30)))}
    assert browser.post(reverse("upkeep:report", args=[mill.pk]), told).status_code == 302
    assert (Fault.objects.count(), FaultPhoto.objects.count()) == (1, 0)


def test_a_round_of_sweeping_passes_over_what_does_not_go_and_finds_it_again(
    on_s3, bucket, nobody_answers, keep, agreed_booking, now
):
    on_s3()
    keep()
    Booking.objects.filter(pk=agreed_booking.pk).update(stage="closed")
    on_s3(endpoint_url=nobody_answers)

    away = sweeping.sweep_photos(at=now + timedelta(days=15))
    on_s3()
    back = sweeping.sweep_photos(at=now + timedelta(days=15))

    assert (away, back) == (0, 1)
    assert not Photo.objects.exists()
    assert not list(bucket.objects.all())

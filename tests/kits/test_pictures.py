"""Pictures: what is refused unread, and what is left of one that is kept."""

import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from kitshare.kits.pictures import (
    LONG_SIDE,
    PhotoMoves,
    PhotoRefused,
    PhotoTooWide,
    PhotoUnreadable,
    tidied,
)
from tests.checks.sheets import HEIC_HEAD, SCRIPTED, bomb, picture


def read(content: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(content))
    image.load()
    return image


UNREADABLE = {
    "nothing at all": b"",
    "a text": b"Dear coordinator, the pin is gone.",
    "a drawing with script": SCRIPTED,
    "a phone's own format": HEIC_HEAD,
    "the first half of a photo": picture()[: len(picture()) // 2],
    "a GIF": picture(kind="GIF"),
    "a TIFF": picture(kind="TIFF"),
    "a bitmap": picture(kind="BMP"),
    "a document": b"%PDF-1.7\n1 0 obj\n<<>>\nendobj\n",
    "a script after a JPEG's first bytes": b"\xff\xd8\xff\xe0<script>alert(1)</script>",
}


@pytest.mark.parametrize("content", UNREADABLE.values(), ids=UNREADABLE.keys())
def test_what_is_no_photo_is_refused_in_words(content):
    with pytest.raises(PhotoUnreadable, match="JPEG, PNG or WebP"):
        tidied(io.BytesIO(content))


@pytest.mark.parametrize("side", [(6_400, 6_400), (8_000, 8_000), (16_000, 16_000)])
def test_a_picture_that_unfolds_beyond_forty_megapixels_is_refused_before_it_is_decoded(side, monkeypatch):
    content = bomb(*side)
    assert len(content) < 100_000
    monkeypatch.setattr(Image.Image, "load", lambda self: pytest.fail("it was decoded"))

    with pytest.raises(PhotoTooWide, match="40 megapixels"):
        tidied(io.BytesIO(content))


@pytest.mark.filterwarnings("ignore::PIL.Image.DecompressionBombWarning")
def test_it_is_refused_too_where_the_decoders_warning_is_no_error_as_on_a_server():
    with pytest.raises(PhotoTooWide):
        tidied(io.BytesIO(bomb(6_400, 6_400)))


def test_a_picture_just_below_the_limit_is_taken():
    kept = read(tidied(io.BytesIO(bomb(6_320, 6_320))))

    assert kept.size == (LONG_SIDE, LONG_SIDE)


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_a_moving_picture_is_refused(kind):
    frames = io.BytesIO()
    still = [Image.new("RGB", (20, 20), colour) for colour in ("red", "green")]
    still[0].save(frames, kind, save_all=True, append_images=still[1:])

    with pytest.raises(PhotoMoves):
        tidied(io.BytesIO(frames.getvalue()))


def test_a_phones_photo_with_a_second_picture_behind_it_is_taken():
    frames = io.BytesIO()
    first, second = Image.new("RGB", (40, 20), "red"), Image.new("RGB", (40, 20), "blue")
    first.save(frames, "MPO", save_all=True, append_images=[second])

    kept = read(tidied(io.BytesIO(frames.getvalue())))

    assert (kept.format, kept.size) == ("JPEG", (40, 20))


@pytest.mark.parametrize(
    ("sent", "kept"), [((4000, 3000), (1600, 1200)), ((300, 200), (300, 200)), ((3000, 4000), (1200, 1600))]
)
def test_the_long_side_is_sixteen_hundred_pixels_at_most(sent, kept):
    assert read(tidied(io.BytesIO(picture(sent)))).size == kept


@pytest.mark.parametrize(
    ("kind", "mode"), [("PNG", "RGBA"), ("PNG", "P"), ("PNG", "L"), ("PNG", "I;16"), ("JPEG", "CMYK"), ("WEBP", "RGB")]
)
def test_every_way_of_storing_colour_becomes_a_plain_jpeg(kind, mode):
    kept = read(tidied(io.BytesIO(picture((50, 40), kind, mode))))

    assert (kept.format, kept.mode, kept.size) == ("JPEG", "RGB", (50, 40))


def test_what_is_clear_becomes_white_and_not_black():
    clear = io.BytesIO()
    Image.new("RGBA", (8, 8), (0, 0, 0, 0)).save(clear, "PNG")

    assert read(tidied(io.BytesIO(clear.getvalue()))).getpixel((4, 4)) == (255, 255, 255)


def test_position_comment_and_everything_else_attached_is_dropped():
    about = Image.Exif()
    about[0x010F] = "a maker of telephones"
    place = about.get_ifd(0x8825)
    place[1], place[2], place[3], place[4] = "N", (47.0, 0.0, 0.0), "W", (20.0, 0.0, 0.0)
    content = picture(
        exif=about, comment=b"behind the shed", xmp=b"<x:xmpmeta>47.0 N</x:xmpmeta>", icc_profile=b"profile"
    )
    assert 0x8825 in read(content).getexif()

    kept = tidied(io.BytesIO(content))

    assert dict(read(kept).getexif()) == {}
    assert set(read(kept).info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    for trace in (b"Exif", b"behind the shed", b"xmpmeta", b"telephones", b"ICC_PROFILE"):
        assert trace not in kept


def test_a_photo_taken_sideways_stands_upright():
    sideways = Image.new("RGB", (40, 20), "white")
    sideways.paste("black", (0, 0, 20, 20))
    about = Image.Exif()
    about[0x0112] = 6  # turn a quarter clockwise: the left edge becomes the top
    content = io.BytesIO()
    sideways.save(content, "JPEG", exif=about)

    kept = read(tidied(io.BytesIO(content.getvalue())))

    assert kept.size == (20, 40)
    assert max(kept.getpixel((10, 5))) < 60
    assert min(kept.getpixel((10, 35))) > 200


@settings(max_examples=60, deadline=None)
@given(cut=st.integers(0, 2_000), junk=st.binary(max_size=40), kind=st.sampled_from(["JPEG", "PNG", "WEBP"]))
def test_a_torn_file_is_kept_or_refused_but_never_breaks_the_page(cut, junk, kind):
    whole = picture((64, 48), kind)
    at = cut % len(whole)

    try:
        kept = tidied(io.BytesIO(whole[:at] + junk + whole[at + len(junk) :]))
    except PhotoRefused:
        return
    assert read(kept).format == "JPEG"

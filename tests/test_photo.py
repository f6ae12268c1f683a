"""Reading photos: orientation, focal length, and everything that is not a photo."""

import struct
import zlib
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
import scenes
from PIL import Image
from scenes.garments import leggings_folded

from outgrown.arrays import frozen_bytes
from outgrown.errors import PhotoError
from outgrown.photo import Photo, focal_px_from_35mm, is_same_picture, read_photo, read_size_px
from outgrown.steps import trace_outline

FIXTURES = Path(__file__).parents[1] / "fixtures"
EXIF, ORIENTATION, FOCAL, FOCAL_35, ZOOM, WIDE, HIGH = 0x8769, 0x0112, 0x920A, 0xA405, 0xA404, 0xA002, 0xA003


def picture(width=800, height=600):
    pixels = np.zeros((height, width, 3), np.uint8)
    pixels[: height // 2, : width // 2] = (250, 20, 20)
    return Image.fromarray(pixels)


def save(path, image, orientation=1, **details):
    exif = image.getexif()
    exif[ORIENTATION] = orientation
    exif.get_ifd(EXIF).update(
        {{"f35": FOCAL_35, "focal": FOCAL, "zoom": ZOOM, "wide": WIDE, "high": HIGH}[k]: v for k, v in details.items()}
    )
    image.save(path, exif=exif)
    return path


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("suffix", [".jpg", ".png"])
def test_every_orientation_comes_upright(tmp_path, orientation, suffix):
    back = {
        1: None,
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_90,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_270,
    }[orientation]
    stored = picture() if back is None else picture().transpose(back)
    path = save(tmp_path / f"p{suffix}", stored, orientation)
    photo = read_photo(path)
    assert read_size_px(path) == (photo.width_px, photo.height_px)
    assert photo.pixels.shape == (600, 800, 3)
    assert photo.pixels[100, 100, 0] > 200 and photo.pixels[500, 700, 0] < 50


def test_heic_is_read_with_its_focal_length(tmp_path):
    pillow_heif = pytest.importorskip("pillow_heif")
    pillow_heif.register_heif_opener()
    path = save(tmp_path / "p.heic", picture(), f35=26)
    photo = read_photo(path)
    assert photo.pixels.shape == (600, 800, 3) and read_size_px(path) == (800, 600)
    assert photo.focal_px == pytest.approx(26 * 1000 / 43.2666, rel=1e-4)


@pytest.mark.parametrize(("written", "named"), [("p.heic", "p.jpg"), ("p.jpg", "p.heic")])
def test_a_photo_is_told_by_its_content_whatever_its_name_ends_in(tmp_path, written, named):
    pytest.importorskip("pillow_heif").register_heif_opener()
    save(tmp_path / written, picture(), orientation=6, f35=26)
    plain = read_photo(tmp_path / written)
    (tmp_path / written).rename(tmp_path / named)
    again = read_photo(tmp_path / named)
    assert np.array_equal(again.pixels, plain.pixels)
    assert again.focal_px == plain.focal_px
    assert read_size_px(tmp_path / named) == (plain.width_px, plain.height_px)


def test_focal_length_goes_by_the_diagonal(tmp_path):
    # Hand-computed: 26 mm on a 43.27 mm diagonal; 4032 x 3024 has a diagonal of 5040 px.
    assert focal_px_from_35mm(26, 4032, 3024) == pytest.approx(3028.7, abs=0.1)
    assert read_photo(save(tmp_path / "p.jpg", picture(), f35=26)).focal_px == pytest.approx(600.9, abs=0.1)


def test_a_whole_millimetre_is_taken_as_rounded(tmp_path):
    photo = read_photo(save(tmp_path / "p.jpg", picture(), f35=26))
    assert 0.01 < photo.focal_doubt < 0.02


def test_without_exif_no_focal_length_is_made_up(tmp_path):
    picture().save(tmp_path / "p.png")
    assert read_photo(tmp_path / "p.png").focal_px is None


def test_a_cropped_photo_is_told(tmp_path):
    photo = read_photo(save(tmp_path / "p.jpg", picture(), f35=26, wide=4032, high=2268))
    assert photo.focal_px is None
    assert [f.code for f in photo.findings] == ["photo-cropped"]


@pytest.mark.parametrize("zoom", [1.5, 2.0, 4.0])
def test_digital_zoom_is_told_and_both_ways_of_stating_it_are_within_the_doubt(tmp_path, zoom):
    # Some makers state the 35 mm equivalent with the zoom, some without: 26 mm may mean 26 mm x 2 of a 12 Mpx picture.
    photo = read_photo(save(tmp_path / "p.jpg", picture(), f35=26, zoom=zoom))
    stated = 26 * 1000 / 43.2666
    for meant in (stated, zoom * stated):
        assert abs(np.log(meant / photo.focal_px)) <= 1.001 * photo.focal_doubt
    assert photo.focal_doubt < np.log(zoom)
    assert [f.code for f in photo.findings] == ["digital-zoom"]


@pytest.mark.parametrize(
    ("size", "sensor"),
    # Hand-made: the 4:3 sensor of which the picture has the whole width, or the whole height.
    [((1600, 900), (1600, 1200)), ((900, 1600), (1600, 1200)), ((900, 900), (1200, 900)), ((1000, 900), (1200, 900))],
)
def test_of_a_picture_cut_from_a_sensor_both_diagonals_are_within_the_doubt(tmp_path, size, sensor):
    photo = read_photo(save(tmp_path / "p.jpg", picture(*size), f35=26))
    for width, height in (size, sensor):
        meant = 26 * np.hypot(width, height) / 43.2666
        assert abs(np.log(meant / photo.focal_px)) <= photo.focal_doubt
    assert photo.focal_doubt < 0.1
    assert [f.code for f in photo.findings] == ["photo-shape"]


def png_header(width, height):
    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(b"\0" * 100)) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("note.jpg", b"milk, eggs, elastic\n", "not a photo"),
        ("empty.jpg", b"", "not a photo"),
        ("huge.png", png_header(20000, 10000), "megapixels"),
        ("bomb.png", png_header(60000, 60000), "megapixels"),
        ("cut.png", png_header(800, 600), "broken"),
        ("dot.png", png_header(1, 1), "1 x 1"),
    ],
)
def test_what_is_no_photo_gets_one_clear_sentence(tmp_path, name, content, words):
    (tmp_path / name).write_bytes(content)
    with pytest.raises(PhotoError, match=words) as refused:
        read_photo(tmp_path / name)
    assert refused.value.advice


def test_missing_files_and_folders_are_told(tmp_path):
    with pytest.raises(PhotoError, match="no file"):
        read_photo(tmp_path / "gone.jpg")
    with pytest.raises(PhotoError, match="folder"):
        read_photo(tmp_path)


def test_a_picture_saved_again_is_known_and_another_is_not(tmp_path):
    image = picture(1600, 1200)
    read = {}
    for name, other, how in (
        ("a", image, {}),
        ("smaller", image.resize((800, 600)), {"quality": 80}),
        ("coarse", image, {"quality": 40}),
        ("tiny", image.resize((640, 480)), {"quality": 10}),
        ("turned", image.rotate(180), {}),
        ("cropped", image.crop((0, 0, 1600, 1100)), {}),
        ("moved", image.transform(image.size, Image.Transform.AFFINE, (1, 0, 40, 0, 1, 0)), {}),
    ):
        other.save(tmp_path / f"{name}.jpg", **how)
        read[name] = read_photo(tmp_path / f"{name}.jpg")
    assert [name for name, photo in read.items() if is_same_picture(read["a"], photo)] == [
        "a",
        "smaller",
        "coarse",
        "tiny",
    ]


def test_the_garments_own_photo_is_no_photo_of_the_empty_floor(tmp_path):
    picture().save(tmp_path / "a.png")
    photo = read_photo(tmp_path / "a.png")
    with pytest.raises(PhotoError, match="is the garment's own photo, not one of the empty floor"):
        trace_outline(photo, floor=read_photo(tmp_path / "a.png"))


@pytest.mark.parametrize("name", ["card.jpg", "demo.jpg", "a4.jpg", "letter.jpg"])
@pytest.mark.parametrize(("size", "quality"), [((640, 480), 10), ((640, 480), 60), ((641, 480), 30), ((800, 600), 20)])
def test_a_tiny_copy_as_messengers_send_it_is_known(name, size, quality):
    photo, sent = read_photo(FIXTURES / name), BytesIO()
    size = size if photo.width_px > photo.height_px else size[::-1]
    Image.fromarray(photo.pixels).resize(size, Image.Resampling.LANCZOS).save(sent, "JPEG", quality=quality)
    assert is_same_picture(photo, Photo(frozen_bytes(np.array(Image.open(sent)))))


@pytest.mark.parametrize("colour", [(170, 160, 150), (52, 72, 110)])
def test_a_back_photographed_from_the_same_spot_is_another_picture(colour):
    """Cloth hardly told from the floor, a camera that did not move: only the rise and the waist differ."""
    shot = scenes.Shot(width_px=1600, height_px=1200, height_mm=1250.0, roll_deg=90.0)
    front, back = (
        scenes.render(
            scenes.Scene(
                shot=shot,
                shape=leggings_folded(rise_fullness=fullness, waist_slope_mm=slope),
                fabric=scenes.Fabric(colour),
                floor=scenes.Floor("table"),
            )
        )
        for fullness, slope in ((0.5, 4.0), (0.7, 18.0))
    )
    assert not is_same_picture(*(Photo(frozen_bytes(one.pixels)) for one in (front, back)))

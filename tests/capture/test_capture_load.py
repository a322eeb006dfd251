"""Every format and pixel type that people send, and every file that cannot be used."""

import io
import os
import warnings
from pathlib import Path

import numpy as np
import pillow_heif
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms, TiffImagePlugin

from limner.capture import load
from limner.capture.load import load_photo, require_opencv
from limner.errors import InputError, LimnerError

WIDTH, HEIGHT = 96, 80


def picture() -> Image.Image:
    """Grey paper with a red, a green and a blue corner: no two orientations look the same."""
    rgb = np.full((HEIGHT, WIDTH, 3), 200, np.uint8)
    rgb[:24, :32] = (220, 30, 30)
    rgb[:24, -32:] = (30, 160, 30)
    rgb[-24:, :32] = (30, 30, 200)
    return Image.fromarray(rgb)


def corners(rgb):
    """Mean colour of the four corners: top left, top right, bottom left, bottom right."""
    parts = (rgb[:16, :20], rgb[:16, -20:], rgb[-16:, :20], rgb[-16:, -20:])
    return np.array([part.reshape(-1, 3).mean(axis=0) for part in parts])


UPRIGHT = np.array([[220, 30, 30], [30, 160, 30], [30, 30, 200], [200, 200, 200]])
GREY = np.array([[200, 200, 200]] * 4)


def save(path: Path, image: Image.Image, kind: str, **options) -> Path:
    if kind == "HEIF":
        heif = pillow_heif.from_pillow(image)
        heif.save(path, quality=95, **options)
    else:
        image.save(path, kind, **options)
    return path


@pytest.mark.parametrize(
    ("kind", "mode", "options"),
    [
        ("JPEG", "RGB", {"quality": 95, "subsampling": 0}),
        ("JPEG", "RGB", {"quality": 95, "subsampling": 0, "progressive": True}),
        ("PNG", "RGB", {}),
        ("PNG", "RGBA", {}),
        ("PNG", "P", {}),
        ("TIFF", "RGB", {}),
        ("TIFF", "RGB", {"compression": "tiff_lzw"}),
        ("TIFF", "RGBA", {"compression": "tiff_adobe_deflate"}),
        ("WEBP", "RGB", {"lossless": True}),
        ("WEBP", "RGBA", {"lossless": True}),
        ("HEIF", "RGB", {}),
        ("BMP", "RGB", {}),
        ("GIF", "P", {}),
        ("JPEG", "CMYK", {"quality": 95, "subsampling": 0}),
        ("TIFF", "CMYK", {}),
    ],
)
def test_colour_formats(tmp_path, kind, mode, options):
    image = picture().convert(mode)
    photo = load_photo(save(tmp_path / "sketch.bin", image, kind, **options))
    assert photo.rgb.shape == (HEIGHT, WIDTH, 3)
    assert photo.rgb.dtype == np.uint8
    assert photo.source == "sketch.bin"
    np.testing.assert_allclose(corners(photo.rgb), UPRIGHT, atol=14)


@pytest.mark.parametrize(
    ("kind", "mode"),
    [("JPEG", "L"), ("PNG", "L"), ("PNG", "LA"), ("TIFF", "L"), ("BMP", "L"), ("TIFF", "LA")],
)
def test_grey_formats(tmp_path, kind, mode):
    image = Image.new("L", (WIDTH, HEIGHT), 200).convert(mode)
    photo = load_photo(save(tmp_path / "sketch", image, kind))
    np.testing.assert_allclose(corners(photo.rgb), GREY, atol=1)


@pytest.mark.parametrize("kind", ["PNG", "TIFF"])
def test_sixteen_bit_grey_is_scaled_not_clipped(tmp_path, kind):
    values = np.linspace(0, 65535, WIDTH).astype(np.uint16)
    image = Image.fromarray(np.repeat(values[None], HEIGHT, axis=0))
    photo = load_photo(save(tmp_path / "scan", image, kind))
    expected = np.round(values / 257.0)  # 65535 / 255 = 257
    np.testing.assert_allclose(photo.rgb[0, :, 0], expected, atol=1)
    assert (photo.rgb[..., 0] == photo.rgb[..., 2]).all()


def test_sixteen_bit_colour_keeps_its_levels(tmp_path):
    import cv2

    wide = np.zeros((HEIGHT, WIDTH, 3), np.uint16)
    wide[:] = np.array([51400, 25700, 12850], np.uint16)  # 200, 100, 50 in blue, green, red
    for name in ("deep.png", "deep.tif"):
        assert cv2.imwrite(str(tmp_path / name), wide)
        photo = load_photo(tmp_path / name)
        np.testing.assert_allclose(photo.rgb[5, 5], (50, 100, 200), atol=1)


@pytest.mark.parametrize("top", [1.0, 255.0])
def test_float_tiff(tmp_path, top):
    values = np.full((HEIGHT, WIDTH), 0.5 * top, np.float32)
    values[0, 0] = top
    photo = load_photo(save(tmp_path / "float.tif", Image.fromarray(values), "TIFF"))
    assert abs(int(photo.rgb[40, 40, 0]) - 128) <= 1


def test_one_bit_scan(tmp_path):
    image = Image.new("1", (WIDTH, HEIGHT), 1)
    image.paste(0, (0, 0, 20, 20))
    photo = load_photo(save(tmp_path / "fax.tif", image, "TIFF", compression="group4"))
    assert photo.rgb[0, 0].tolist() == [0, 0, 0]
    assert photo.rgb[-1, -1].tolist() == [255, 255, 255]


def test_alpha_lies_over_white(tmp_path):
    image = Image.new("RGBA", (WIDTH, HEIGHT), (0, 0, 0, 0))
    image.paste((0, 0, 0, 255), (0, 0, 20, 20))
    image.paste((0, 0, 0, 128), (40, 40, 60, 60))
    photo = load_photo(save(tmp_path / "cut-out.png", image, "PNG"))
    assert photo.rgb[0, 0].tolist() == [0, 0, 0]
    assert abs(int(photo.rgb[50, 50, 0]) - 127) <= 1
    assert photo.rgb[70, 70].tolist() == [255, 255, 255]


def test_palette_with_transparent_colour(tmp_path):
    image = Image.new("P", (WIDTH, HEIGHT), 1)
    image.putpalette([10, 20, 30, 200, 0, 0])
    image.paste(0, (0, 0, 20, 20))
    photo = load_photo(save(tmp_path / "few.png", image, "PNG", transparency=1))
    assert photo.rgb[0, 0].tolist() == [10, 20, 30]
    assert photo.rgb[70, 70].tolist() == [255, 255, 255]


def test_name_does_not_tell_the_format(tmp_path):
    path = tmp_path / "really-a-jpeg.png"
    picture().save(path, "JPEG", quality=95, subsampling=0)
    np.testing.assert_allclose(corners(load_photo(path).rgb), UPRIGHT, atol=14)


def test_cmyk_jpeg_without_the_marker_is_not_inverted(tmp_path):
    """Adobe's marker (APP14) says that CMYK is stored inverted; taken out, the same bytes mean paper."""
    stream = io.BytesIO()
    # Stored samples are the complement of what the library is given: here 255, full paper inverted.
    Image.new("CMYK", (WIDTH, HEIGHT), (0, 0, 0, 0)).save(stream, "JPEG", quality=95)
    data = stream.getvalue()
    start = data.index(b"\xff\xeeAdobe"[:2] + (14).to_bytes(2, "big") + b"Adobe")
    (tmp_path / "with.jpg").write_bytes(data)
    (tmp_path / "without.jpg").write_bytes(data[:start] + data[start + 16 :])
    assert load_photo(tmp_path / "with.jpg").rgb.min() >= 253
    assert load_photo(tmp_path / "without.jpg").rgb.max() <= 2


# Where the red, green and blue corners of the stored picture go, by EXIF orientation (Exif 2.32, from
# memory: 1 as stored, 2 mirrored, 3 turned by 180, 4 upside down mirrored, 5 transposed, 6 turn it
# clockwise, 7 transversed, 8 turn it anticlockwise), as indices into top left, top right, bottom left,
# bottom right of the upright picture.
RED_GREEN_BLUE_AT = {
    1: (0, 1, 2),
    2: (1, 0, 3),
    3: (3, 2, 1),
    4: (2, 3, 0),
    5: (0, 2, 1),
    6: (1, 3, 0),
    7: (3, 1, 2),
    8: (2, 0, 3),
}


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP", "HEIF"])
def test_orientation_is_applied_once(tmp_path, kind, orientation):
    exif = Image.Exif()
    exif[0x0112] = orientation
    options = {"exif": exif.tobytes() if kind == "HEIF" else exif}
    photo = load_photo(save(tmp_path / "turned", picture(), kind, **options))
    turned = orientation >= 5
    assert photo.rgb.shape[:2] == ((WIDTH, HEIGHT) if turned else (HEIGHT, WIDTH))
    found = corners(photo.rgb)
    for at, colour in zip(RED_GREEN_BLUE_AT[orientation], UPRIGHT[:3], strict=True):
        assert np.abs(found[at] - colour).max() < 40, (at, colour, found)


@pytest.mark.parametrize("value", [0, 9, 65535])
def test_nonsense_orientation_is_passed_over(tmp_path, value):
    exif = Image.Exif()
    exif[0x0112] = value
    photo = load_photo(save(tmp_path / "odd.png", picture(), "PNG", exif=exif))
    np.testing.assert_allclose(corners(photo.rgb), UPRIGHT, atol=1)


def test_profile_is_taken_to_srgb(tmp_path):
    """A grey of Lab 50 is 119 in sRGB (CIE L* of linear 0.1842, by the sRGB curve; computed)."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB"))
    image = Image.new("LAB", (WIDTH, HEIGHT), (128, 128, 128))
    image.save(tmp_path / "lab.tif", "TIFF", icc_profile=profile.tobytes())
    assert np.abs(load_photo(tmp_path / "lab.tif").rgb[3, 3].astype(int) - 119).max() <= 3


def test_wide_profile_changes_colour_and_srgb_does_not(tmp_path):
    sketch = Path(__file__).parents[3] / "shared" / "sketches" / "p01_garlic_face_photo.png"
    if not sketch.exists():
        pytest.skip("the folder of real sketches is not here")
    with Image.open(sketch) as image:
        wide = image.info["icc_profile"]
    assert b"P3" in wide.replace(b"\0", b"")  # Display P3
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    plain = load_photo(save(tmp_path / "plain.png", picture(), "PNG")).rgb
    tagged = load_photo(save(tmp_path / "tagged.png", picture(), "PNG", icc_profile=srgb)).rgb
    other = load_photo(save(tmp_path / "wide.png", picture(), "PNG", icc_profile=wide)).rgb
    np.testing.assert_array_equal(plain, tagged)
    assert int(other[0, 0, 0]) > int(plain[0, 0, 0])  # red of the wider space is redder than sRGB's
    np.testing.assert_allclose(other[-1, -1], plain[-1, -1], atol=1)  # greys stay


@pytest.mark.parametrize("profile", [b"not a profile", b"\0" * 200])
def test_broken_profile_is_passed_over(tmp_path, profile):
    path = save(tmp_path / "odd.png", picture(), "PNG", icc_profile=profile)
    np.testing.assert_allclose(corners(load_photo(path).rgb), UPRIGHT, atol=1)


# --- resolution ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("dpi", [100, 150, 200, 240, 300, 400, 600, 1200, 2400])
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "BMP"])
def test_scanners_dpi_counts(tmp_path, kind, dpi):
    path = save(tmp_path / "scan", picture(), kind, dpi=(dpi, dpi))
    assert load_photo(path).dpi == pytest.approx(dpi, rel=1e-3)


@pytest.mark.parametrize("dpi", [1, 72, 96, 144, 180, 192, 288, 9600])
def test_defaults_of_screens_and_cameras_do_not_count(tmp_path, dpi):
    assert load_photo(save(tmp_path / "shot.png", picture(), "PNG", dpi=(dpi, dpi))).dpi is None


def test_no_dpi_or_different_ones_do_not_count(tmp_path):
    assert load_photo(save(tmp_path / "none.png", picture(), "PNG")).dpi is None
    assert load_photo(save(tmp_path / "fax.tif", picture(), "TIFF", dpi=(204, 98))).dpi is None


@pytest.mark.parametrize(
    ("tag", "value", "counts"),
    [
        (0x829A, TiffImagePlugin.IFDRational(1, 50), False),  # exposure time
        (0x010F, "a maker", False),
        (0xA300, b"\x03", True),  # file source 3 alone is a camera's, but harmless without its notes
        (0x010E, "a description", True),
    ],
)
def test_a_cameras_notes_outweigh_dpi(tmp_path, tag, value, counts):
    exif = Image.Exif()
    if tag in (0x829A, 0xA300):
        exif.get_ifd(0x8769)[tag] = value
    else:
        exif[tag] = value
    path = save(tmp_path / "photo.jpg", picture(), "JPEG", dpi=(300, 300), exif=exif)
    assert (load_photo(path).dpi is not None) == counts


def test_a_scanner_may_sign_its_tiff(tmp_path):
    path = save(
        tmp_path / "scan.tif",
        picture(),
        "TIFF",
        dpi=(300, 300),
        tiffinfo={0x010F: "a maker", 0x0110: "a model"},
    )
    assert load_photo(path).dpi == pytest.approx(300)


# --- what cannot be used ------------------------------------------------------------------------------


def refused(path: Path) -> str:
    with pytest.raises(InputError) as caught:
        load_photo(path)
    message = str(caught.value)
    assert "\n" not in message
    assert message.endswith(".")
    assert path.name[:20].split("\n")[0] in message
    return message


def test_missing(tmp_path):
    assert "was not found" in refused(tmp_path / "nowhere.jpg")


def test_file_used_as_a_folder(tmp_path):
    (tmp_path / "plain").write_bytes(b"x")
    assert "was not found" in refused(tmp_path / "plain" / "sketch.jpg")


def test_empty(tmp_path):
    (tmp_path / "empty.jpg").touch()
    assert "is empty" in refused(tmp_path / "empty.jpg")


def test_folder(tmp_path):
    (tmp_path / "folder.jpg").mkdir()
    assert "is a folder" in refused(tmp_path / "folder.jpg")


def test_pipe_is_refused_at_once(tmp_path):
    os.mkfifo(tmp_path / "pipe.jpg")
    assert "pipe or device" in refused(tmp_path / "pipe.jpg")


def test_device():
    assert "pipe or device" in refused(Path("/dev/zero"))


def test_link_to_itself(tmp_path):
    link = tmp_path / "loop.jpg"
    link.symlink_to(link)
    refused(link)


def test_unreadable(tmp_path, monkeypatch):
    path = save(tmp_path / "locked.png", picture(), "PNG")

    def denied(*_args, **_options):
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(Path, "open", denied)  # the superuser may read anything
    assert "may not be read" in refused(path)


@pytest.mark.parametrize("content", [b"A sketch of a crab.", b"%PDF-1.7\n" * 40, b"\0" * 4096, b"\xff\xd8"])
def test_not_a_picture(tmp_path, content):
    (tmp_path / "notes.jpg").write_bytes(content)
    message = refused(tmp_path / "notes.jpg")
    assert "not a picture" in message
    assert "PNG" in message


@pytest.mark.parametrize(
    ("kind", "options"),
    [
        ("JPEG", {}),
        ("JPEG", {"progressive": True}),
        ("PNG", {}),
        ("TIFF", {}),
        ("TIFF", {"compression": "tiff_lzw"}),
        ("WEBP", {}),
        ("WEBP", {"lossless": True}),
        ("HEIF", {}),
        ("BMP", {}),
        ("GIF", {}),
    ],
)
@pytest.mark.parametrize("share", [0.02, 0.3, 0.75])
def test_cut_short(tmp_path, kind, options, share):
    noise = np.random.default_rng(5).integers(0, 255, (200, 240, 3)).astype(np.uint8)
    path = save(tmp_path / "cut", Image.fromarray(noise), kind, **options)
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * share)])
    assert "damaged or cut short" in refused(path)


@pytest.mark.parametrize("size", [(63, 400), (400, 63), (1, 1)])
def test_too_small(tmp_path, size):
    path = save(tmp_path / "stamp.png", Image.new("L", size), "PNG")
    assert "too small" in refused(path)
    assert "64 pixels" in refused(path)


def test_just_large_enough(tmp_path):
    assert load_photo(save(tmp_path / "64.png", Image.new("L", (64, 64), 200), "PNG")).rgb.shape == (
        64,
        64,
        3,
    )


@pytest.mark.parametrize("size", [(20_001, 10_000), (60_000, 60_000)])
@pytest.mark.parametrize("kind", ["PNG", "BMP", "GIF", "JPEG"])
def test_too_large_is_told_from_the_header(tmp_path, kind, size, monkeypatch):
    path = save(tmp_path / "bomb", Image.new("L", (64, 64)), kind)
    data = bytearray(path.read_bytes())
    width, height = size
    if kind == "PNG":
        import zlib

        data[16:24] = width.to_bytes(4, "big") + height.to_bytes(4, "big")
        data[29:33] = zlib.crc32(bytes(data[12:29])).to_bytes(4, "big")
    elif kind == "BMP":
        data[18:26] = width.to_bytes(4, "little") + height.to_bytes(4, "little")
    elif kind == "GIF":
        data[6:10] = width.to_bytes(2, "little") + height.to_bytes(2, "little")
    else:
        frame = data.index(b"\xff\xc0")
        data[frame + 5 : frame + 9] = height.to_bytes(2, "big") + width.to_bytes(2, "big")
    path.write_bytes(bytes(data))
    monkeypatch.setattr(load, "decode", lambda _: pytest.fail("it was decoded"))
    assert "too large" in refused(path)


def test_a_hundred_megapixels_raise_no_warning(tmp_path):
    """The decoder's library warns from 89 million pixels and refuses from 179; our limit is 200."""
    path = save(tmp_path / "wide.png", Image.new("1", (14_000, 13_500), 1), "PNG")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert load_photo(path).rgb.shape == (13_500, 14_000, 3)


@pytest.mark.parametrize(
    "name",
    ["qu\"ote's.png", "new\nline.png", "tab\tand \x1b[31mcolour.png", "crab 🦀 ü.png", "n" * 200 + ".png"],
)
def test_odd_names(tmp_path, name):
    path = save(tmp_path / "plain.png", picture(), "PNG").rename(tmp_path / name)
    photo = load_photo(path)
    assert photo.source.isprintable()
    path.write_bytes(b"")
    with pytest.raises(InputError) as caught:
        load_photo(path)
    assert str(caught.value).isprintable()


@pytest.mark.parametrize("name", ["n" * 400, "nul\0byte.png", "\udcff.png"])
def test_impossible_names(tmp_path, name):
    with pytest.raises(InputError) as caught:
        load_photo(tmp_path / name)
    str(caught.value).encode()  # no lone surrogates are left that cannot be printed
    assert str(caught.value).isprintable()


def test_the_file_is_not_touched(tmp_path):
    path = save(tmp_path / "sketch.png", picture(), "PNG")
    before = path.read_bytes(), path.stat().st_mtime_ns
    load_photo(path)
    assert (path.read_bytes(), path.stat().st_mtime_ns) == before


def test_a_broken_tiff_is_refused_without_a_word_from_its_library(tmp_path, capfd):
    noise = np.random.default_rng(5).integers(0, 255, (200, 240, 3)).astype(np.uint8)
    path = save(tmp_path / "torn.tif", Image.fromarray(noise), "TIFF", compression="tiff_lzw")
    data = bytearray(path.read_bytes())
    data[1000:1400] = bytes(400)
    path.write_bytes(bytes(data))
    assert "damaged" in refused(path)
    assert capfd.readouterr() == ("", "")
    os.write(2, b"heard again")
    assert capfd.readouterr().err == "heard again"


def seed_files() -> list[bytes]:
    files = []
    exif = Image.Exif()
    exif[0x0112] = 6
    small = picture()
    for kind, options in (
        ("JPEG", {"exif": exif}),
        ("PNG", {"exif": exif, "dpi": (300, 300)}),
        ("TIFF", {"compression": "tiff_lzw"}),
        ("WEBP", {}),
        ("BMP", {}),
        ("GIF", {}),
    ):
        stream = io.BytesIO()
        small.save(stream, kind, **options)
        files.append(stream.getvalue())
    stream = io.BytesIO()
    pillow_heif.from_pillow(small).save(stream)
    return [*files, stream.getvalue()]


SEEDS = seed_files()


@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    seed=st.integers(0, len(SEEDS) - 1),
    changes=st.lists(st.tuples(st.floats(0, 1), st.integers(0, 255)), min_size=1, max_size=12),
    header=st.booleans(),
)
def test_changed_bytes_never_break_out(tmp_path, seed, changes, header):
    """A changed file is read or refused, never anything else."""
    data = bytearray(SEEDS[seed])
    reach = min(len(data), 200) if header else len(data)
    for at, value in changes:
        data[min(int(at * reach), len(data) - 1)] = value
    path = tmp_path / "changed"
    path.write_bytes(bytes(data))
    try:
        shape = load_photo(path).rgb.shape
    except InputError as error:
        shape, message = None, str(error)
    if shape is None:
        assert "changed" in message
    else:
        assert min(shape[:2]) >= load.MIN_SIDE_PX


# --- OpenCV -------------------------------------------------------------------------------------------


def test_opencv_is_there():
    require_opencv()


@pytest.mark.parametrize(
    ("reason", "package"),
    [
        ("libGL.so.1: cannot open shared object file: No such file or directory", "libgl1"),
        ("libglib-2.0.so.0: cannot open shared object file: No such file or directory", "libglib2.0-0"),
        ("libgthread-2.0.so.0: cannot open shared object file: No such file or directory", "libglib2.0-0"),
        ("libSM.so.6: cannot open shared object file: No such file or directory", "libsm6"),
    ],
)
def test_missing_system_library_names_the_package(monkeypatch, reason, package):
    def missing(_name):
        raise ImportError(reason)

    monkeypatch.setattr(load, "import_module", missing)
    with pytest.raises(LimnerError, match=f'apt-get install {package}"'):
        require_opencv()


def test_any_other_reason_is_passed_on(monkeypatch):
    def missing(_name):
        raise ImportError("numpy is\ntoo old")

    monkeypatch.setattr(load, "import_module", missing)
    with pytest.raises(LimnerError, match=r"numpy is\\ntoo old"):
        require_opencv()

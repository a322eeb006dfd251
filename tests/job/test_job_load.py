import os

import pytest
from PIL import Image

from helpers_job import CONTRACT_JOB, write_job
from limner.colour import ColourSpec
from limner.errors import InputError
from limner.job import load_job, load_zones
from limner.model.sheet import Page
from limner.sheet.settings import PlacedForm


@pytest.fixture
def job_error(tmp_path):
    def error_of(old, new, count=1):
        assert old in CONTRACT_JOB
        with pytest.raises(InputError) as caught:
            load_job(write_job(tmp_path, CONTRACT_JOB.replace(old, new, count)))
        message = str(caught.value)
        assert "\n" not in message
        assert message.endswith((".", "?"))
        return message

    return error_of


def test_the_contracts_job_is_read(tmp_path):
    job = load_job(write_job(tmp_path))
    # ISO 216: A6 is 105 mm x 148 mm.
    assert job.page() == Page(105.0, 148.0, 3.0, 4.0, "A6")
    assert job.tables.colours["kelp"] == ColourSpec(cmyk=(70, 20, 80, 30))
    (crab,) = job.stickers
    assert (crab.width, crab.smoothing, crab.nodes, crab.at) == (38.0, 0.15, 220, (30.0, 40.0))
    assert crab.mirror == ()
    assert crab.area[0].at == ((0.42, 0.31),)
    assert crab.zone[0].box == (0.3, 0.1, 0.6, 0.4)
    cut = job.cut_of(crab)
    assert (cut.form, cut.distance, cut.separation) == (("ellipse",), 2.5, "Cutting")
    # A point is 25.4 / 72 mm.
    assert job.tables.lettering[0].size == pytest.approx(16 * 25.4 / 72)
    assert job.sketch_path(crab) == tmp_path / "crab.jpg"
    assert job.name == "tide-pool"


def test_what_is_left_out_has_the_contracts_defaults(tmp_path):
    text = '[[sticker]]\nname = "crab"\nsketch = "crab.jpg"\nwidth = 38\n'
    job = load_job(write_job(tmp_path, text))
    assert job.page() == Page(105.0, 148.0, 3.0, 4.0, "A6")
    assert job.tables.cut.separation == "Cutting"
    assert job.stickers[0].at is None
    assert job.stickers[0].smoothing is None, "it follows the width of the lines"
    assert job.turn_of(job.stickers[0]) == 0


@pytest.mark.parametrize(
    ("size", "orientation", "trim"),
    [
        ("A5", "portrait", (148, 210)),
        ("a5", "landscape", (210, 148)),
        ("105 mm x 148 mm", "portrait", (105, 148)),
        ("10cm x 4in", "landscape", (101.6, 100)),
        ("148 mm \N{MULTIPLICATION SIGN} 105 mm", "landscape", (148, 105)),
    ],
)
def test_sizes_by_name_and_by_measure(tmp_path, size, orientation, trim):
    text = CONTRACT_JOB.replace('"A6"', f'"{size}"').replace('"portrait"', f'"{orientation}"')
    page = load_job(write_job(tmp_path, text)).page()
    assert (page.trim_width_mm, page.trim_height_mm) == pytest.approx(trim)


def test_a_size_in_millimetres_keeps_its_sides_without_an_orientation(tmp_path):
    text = CONTRACT_JOB.replace('"A6"', '"148 mm x 105 mm"').replace('orientation = "portrait"\n', "")
    assert load_job(write_job(tmp_path, text)).page().trim_width_mm == 148


@pytest.mark.parametrize(
    ("old", "new", "line", "said"),
    [
        ("width =", "widht =", 26, '"widht"; did you mean "width"?'),
        ("[sheet]", "[sheat]", 1, '"sheat"; did you mean "sheet"?'),
        ('form = "ellipse"', "fomr = 3", 35, '"fomr"; did you mean "form"?'),
        ('smoothing = "0.05 mm"', "smothing = 1", 45, '"smothing"; did you mean "smoothing"?'),
        ('"38 mm"', '"38 kg"', 26, '"38 kg", which is not a length'),
        ('"38 mm"', '"-3 mm"', 26, "more than zero"),
        ('"38 mm"', '"400 mm"', 26, "wider than the sheet"),
        ('"38 mm"', "true", 26, "must be a length"),
        ('"38 mm"', '"1e400 mm"', 26, "not a length"),
        ('"2.5 mm"', '"-1 mm"', 14, "must not be negative"),
        ('fill = "kelp"', 'fill = "klep"', 40, 'did you mean "kelp"?'),
        ('fill = "ink"', 'fill = "inc"', 51, 'did you mean "ink"?'),
        ('background = "sand"', 'background = "rock"', 6, "not in [colours]"),
        ("[70, 20, 80, 30]", "[70, 20, 80, 130]", 10, "four percentages"),
        ("ink  =", '"a\\u0001b" =', 11, "not a usable name"),
        ('"#ecd9bf"', '"ecd9bf"', 9, '"#rrggbb"'),
        ('form = "ellipse"', 'form = "elipse"', 35, "outline, circle, ellipse, rectangle"),
        ('form = "ellipse"', 'form = ["circle", "circle"]', 35, "each form once"),
        ('lines = "drawn"', 'lines = "draw"', 30, '"drawn", "even", "tapered" or "none"'),
        ('mirror = "off"', 'mirror = "on"', 29, '"off", "auto" or a table'),
        ('mirror = "off"', "mirror = { at = [0.5, 0.5] }", 29, "both at and angle"),
        ('mirror = "off"', "mirror = { at = [0.5, 0.5], angel = 90 }", 29, 'did you mean "angle"?'),
        ("nodes = 220", "nodes = 0", 28, "whole number of nodes"),
        ("nodes = 220", "nodes = 2.5", 28, "whole number of nodes"),
        ("at = [0.42, 0.31]", "at = [42, 31]", 38, "if these are percent, write [0.42, 0.31]"),
        ("at = [0.42, 0.31]", "at = 0.4", 38, "two fractions"),
        ("box = [0.30, 0.10, 0.60, 0.40]", "box = [0.6, 0.1, 0.3, 0.4]", 44, "left, top, right, bottom"),
        ("box = [0.30, 0.10, 0.60, 0.40]", "", 43, "exactly one of box"),
        ('  smoothing = "0.05 mm"\n', "", 43, "needs smoothing, nodes or both"),
        ('at = ["30 mm", "40 mm"]', 'at = ["30 mm"]', 31, "two lengths"),
        ("rotate = 0", "rotate = nan", 32, "ordinary number"),
        ('name = "crab"', 'name = "crab claw"', 24, "starts with a letter"),
        ('name = "crab"', 'name = "<b>"', 24, "starts with a letter"),
        ('name = "crab"', 'name = "cut"', 24, "a layer of the sheet"),
        ('name = "crab"\n', "\n", 23, "has no name"),
        ('"Tide Pool"', '"Tide\\u0007Pool"', 48, "control character U+0007"),
        ('"Tide Pool"', '"  "', 48, "must be a text"),
        ('"crab.jpg"', '"crap.jpg"', 25, "is not there"),
        ('"press.icc"', '"other.icc"', 21, "is not there"),
        ('safe = "4 mm"', 'safe = "60 mm"', 5, "leaves no room"),
        ('size = "A6"', 'size = "A66"', 2, "ISO 216"),
        ('size = "A6"', 'size = "1 mm x 2 mm"', 2, "20 to 2000 mm"),
        ('size = "A6"', "size = 6", 2, '"A6"'),
        ("[[lettering]]", "[lettering]", 47, "double brackets"),
        ('bleed = "3 mm"', "bleed = ", 4, "bleed has no value"),
        ('bleed = "3 mm"', 'bleed = "3 mm', 4, "opened and never closed"),
        ('"crab.jpg"', '"art\\tail.jpg"', 25, "write / between folders"),
        ("at = [0.42, 0.31]", 'at = ["42 %", "31 %"]', 38, "if these are percent, write [0.42, 0.31]"),
        ("at = [0.42, 0.31]", "at = [0.42, 31]", 38, "if these are percent, write [0.42, 0.31]"),
        ("at = [0.42, 0.31]", "at = [-1, 31]", 38, "from 0 to 1."),
        ("at = [0.42, 0.31]", "at = [420, 310]", 38, "divide pixels by the width and height"),
        ("[0.30, 0.10, 0.60, 0.40]", "[30, 10, 60, 40]", 44, "write [0.3, 0.1, 0.6, 0.4]"),
    ],
)
def test_every_mistake_names_its_line_and_its_mend(job_error, old, new, line, said):
    message = job_error(old, new)
    assert message.startswith(f"tide-pool.toml, line {line}:")
    assert said in message


def test_a_sticker_twice_is_named(job_error):
    second = '[[sticker]]\nname = "crab"\nsketch = "crab.jpg"\nwidth = 20\n\n[[lettering]]'
    message = job_error("[[lettering]]", second)
    assert "line 48" in message
    assert "clashes with the name of an earlier sticker" in message


def test_a_job_without_stickers_is_refused(tmp_path):
    for text in ("", "sticker = []", '[sheet]\nsize = "A6"'):
        with pytest.raises(InputError, match=r"add a \[\[sticker\]\] table"):
            load_job(write_job(tmp_path, text))


def test_forms_may_be_united_and_areas_joined(tmp_path):
    text = CONTRACT_JOB.replace('form = "ellipse"', 'form = ["outline", "circle"]')
    text = text.replace("at = [0.42, 0.31]", "at = [[0.42, 0.31], [0.5, 0.5]]")
    job = load_job(write_job(tmp_path, text))
    assert job.cut_of(job.stickers[0]).form == ("outline", "circle")
    assert len(job.stickers[0].area[0].at) == 2


def test_a_mirror_by_hand_and_one_found(tmp_path):
    text = CONTRACT_JOB.replace(
        '"off"', '{ at = [0.5, 0.4], angle = 88, keep = "left", one_sided = ["fringe"] }'
    )
    (mirror,) = load_job(write_job(tmp_path, text)).stickers[0].mirror
    assert (mirror.at, mirror.angle, mirror.keep, mirror.one_sided) == ((0.5, 0.4), 88.0, "left", ("fringe",))
    (found,) = load_job(write_job(tmp_path, CONTRACT_JOB.replace('"off"', '"auto"'))).stickers[0].mirror
    assert found is not None
    assert found.at is None


def test_areas_and_zones_for_one_sketch(tmp_path):
    path = tmp_path / "zones.toml"
    path.write_text(
        "[[area]]\nat = [0.1, 0.2]\nskip = true\n\n"
        '[[zone]]\nellipse = [0, 0, 1, 1]\nnodes = 9\nname = "left eye"\n'
    )
    tables = load_zones(path)
    assert tables.areas[0].skip
    assert (tables.zones[0].name, tables.zones[0].nodes) == ("left eye", 9)
    path.write_text("[[aera]]\n")
    with pytest.raises(InputError, match='line 1: a job has no key "aera"; did you mean "area"'):
        load_zones(path)


def test_files_that_are_no_jobs(tmp_path):
    with pytest.raises(InputError, match="is not there"):
        load_job(tmp_path / "none.toml")
    with pytest.raises(InputError, match="is a folder"):
        load_job(tmp_path)
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="UTF-8"):
        load_job(binary)
    huge = tmp_path / "huge.toml"
    huge.write_text("# " + "x" * 1_100_000)
    with pytest.raises(InputError, match="megabyte"):
        load_job(huge)
    os.mkfifo(tmp_path / "pipe.toml")
    with pytest.raises(InputError, match="not an ordinary file"):
        load_job(tmp_path / "pipe.toml")
    with pytest.raises(InputError, match="cannot be read"):
        load_job("nul\0byte.toml")


def test_pixels_for_fractions_are_told_by_the_size_of_the_sketch(tmp_path):
    def message(text):
        path = write_job(tmp_path, CONTRACT_JOB.replace("at = [0.42, 0.31]", text))
        sketch = Image.new("L", (1600, 1200))
        # Upright it is 1200 wide: EXIF 2.32 calls a quarter turn orientation 6 (from memory).
        turned = sketch.getexif()
        turned[0x0112] = 6
        sketch.save(tmp_path / "crab.jpg", exif=turned)
        with pytest.raises(InputError) as caught:
            load_job(path)
        return str(caught.value)

    assert 'pixels of "crab.jpg" (1200 x 1600), write [0.3, 0.5]' in message("at = [360, 800]")
    assert 'outside of "crab.jpg", which has 1200 x 1600 pixels' in message("at = [1360, 800]")


def test_a_picture_given_for_a_job_says_so(tmp_path):
    Image.new("L", (64, 64)).save(tmp_path / "crab.jpg")
    Image.effect_noise((1200, 1200), 90).save(tmp_path / "large.png")
    (tmp_path / "drawing.toml").write_text("<?xml version='1.0'?><svg/>")
    (tmp_path / "renamed.toml").write_bytes((tmp_path / "crab.jpg").read_bytes())
    for name in ("crab.jpg", "large.png", "drawing.toml", "renamed.toml"):
        with pytest.raises(InputError, match=r"not a job: .*limner trace takes a single sketch"):
            load_job(tmp_path / name)


def test_nesting_without_end_is_refused(tmp_path):
    for text in ("a = " + "[" * 500 + "]" * 500, "a = " + "[" * 100_000, "a" + ".a" * 3000 + " = 1"):
        with pytest.raises(InputError):
            load_job(write_job(tmp_path, text))


def test_a_byte_order_mark_is_no_mistake(tmp_path):
    path = write_job(tmp_path)
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())
    assert load_job(path).stickers[0].name == "crab"


def test_where_names_file_and_line(tmp_path):
    job = load_job(write_job(tmp_path))
    assert job.where(("sticker", 0, "area", 0, "fill")) == "tide-pool.toml, line 40"


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('distance = "2.5 mm"', 'distance = "2000 mm"', "distance of [cut]"),
        ('gap = "2 mm"', 'gap = "60 mm"', "gap of [cut]"),
        ('form = "ellipse"', 'distance = "53 mm"', 'distance of [sticker.cut] "crab"'),
    ],
)
def test_a_length_that_leaves_no_room_on_the_sheet_is_refused(tmp_path, old, new, key):
    with pytest.raises(InputError, match="leaves no room for art on a sheet of 105 x 148 mm") as caught:
        load_job(write_job(tmp_path, CONTRACT_JOB.replace(old, new)))
    assert key in str(caught.value)


def test_depth_ground_base_and_white_are_read(tmp_path):
    text = CONTRACT_JOB.replace('form = "ellipse"', 'depth = "partial"')
    text = text.replace('name = "crab"\n', 'name = "crab"\nground = "sand"\nbase = "none"\n')
    job = load_job(write_job(tmp_path, text.replace("[print]\n", '[print]\nwhite = "0.1 mm"\n')))
    (sticker,) = job.stickers
    assert (sticker.ground, sticker.base) == ("sand", "none")
    assert (job.cut_of(sticker).depth, job.tables.cut.depth) == ("partial", "through")
    assert job.tables.print.white == 0.1


def test_an_unknown_ground_is_named(tmp_path):
    text = CONTRACT_JOB.replace('name = "crab"\n', 'name = "crab"\nground = "snad"\n')
    with pytest.raises(InputError, match=r'ground of .*"crab" is "snad".*did you mean "sand"'):
        load_job(write_job(tmp_path, text))


def test_forms_may_have_a_size_and_a_place(tmp_path):
    forms = 'form = [{ circle = "24 mm", at = [0.5, 0.6] }, { ellipse = ["3 cm", 20] }, "outline"]'
    job = load_job(write_job(tmp_path, CONTRACT_JOB.replace('form = "ellipse"', forms)))
    assert job.cut_of(job.stickers[0]).form == (
        PlacedForm("circle", 24.0, 24.0, (0.5, 0.6)),
        PlacedForm("ellipse", 30.0, 20.0, (0.5, 0.5)),
        "outline",
    )


@pytest.mark.parametrize(
    ("form", "message"),
    [
        ('{ circle = "24 mm", near = [0.5, 0.6] }', "a form that cannot be read: write"),
        ('{ circle = ["2 mm", "3 mm"] }', "a circle has one length"),
        ('{ rectangle = ["2 mm"] }', "a rectangle of no size"),
        ("{ circle = 0 }", "must be more than zero"),
        ('["outline", "outline"]', "must hold each form once"),
        ('"blob"', "some perhaps with a size"),
    ],
)
def test_a_form_that_cannot_be_is_refused(tmp_path, form, message):
    with pytest.raises(InputError, match=message):
        load_job(write_job(tmp_path, CONTRACT_JOB.replace('form = "ellipse"', f"form = {form}")))

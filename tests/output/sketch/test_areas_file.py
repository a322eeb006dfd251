"""The file of areas: what is written is what the job reads."""

import tomllib

from limner.job import load_zones
from limner.model.regionmap import Area
from limner.output.sketch.areas import areas_file


def area(name, x, y):
    return Area(name, (), (), None, (x, y), 5.0)


def test_points_are_fractions_of_the_page():
    text = areas_file([area("shell", 30.0, 20.0)], ["#e8a87c"], (10.0, 10.0, 100.0, 50.0), "crab.jpg")
    assert tomllib.loads(text.decode()) == {"area": [{"at": [0.2, 0.2], "name": "shell", "fill": "#e8a87c"}]}


def test_the_job_reads_what_is_written(tmp_path):
    path = tmp_path / "areas.toml"
    found = [area("shell", 30.0, 20.0), area("claw-left", 60.0, 31.0)]
    path.write_bytes(areas_file(found, ["#e8a87c", "#336699"], (0.0, 0.0, 100.0, 50.0), 'a "crab".jpg'))
    tables = load_zones(path)
    assert [table.name for table in tables.areas] == ["shell", "claw-left"]
    assert [table.at for table in tables.areas] == [((0.3, 0.4),), ((0.6, 0.62),)]


def test_what_lies_beyond_the_page_is_left_out():
    text = areas_file([area("claw-right", 130.0, 20.0)], ["#e8a87c"], (0.0, 0.0, 100.0, 50.0), "crab.jpg")
    assert "area" not in tomllib.loads(text.decode())

"""Stickers that are like others, and copies."""

import pytest

from helpers_job import CONTRACT_JOB, write_job
from limner.errors import InputError
from limner.job.likes import copy_names, written_out
from limner.job.load import load_job

SMALL = """
[[sticker]]
name = "crab-small"
like = "crab"
width = "20 mm"
copies = 3
ground = "sand"

  [sticker.cut]
  distance = "1 mm"

  [[sticker.area]]
  name = "shell"
  fill = "sand"
"""


def test_all_keys_are_taken_but_those_given(tmp_path):
    crab, small = load_job(write_job(tmp_path, CONTRACT_JOB + SMALL)).stickers
    assert (small.sketch, small.nodes, small.zone) == (crab.sketch, crab.nodes, crab.zone)
    assert (small.name, small.width, small.copies, small.ground) == ("crab-small", 20.0, 3, "sand")
    # A place is of one sticker alone.
    assert (crab.at, small.at) == ((30.0, 40.0), None)


def test_keys_of_the_cut_are_taken_one_by_one(tmp_path):
    job = load_job(write_job(tmp_path, CONTRACT_JOB + SMALL))
    cut = job.cut_of(job.stickers[1])
    assert (cut.distance, cut.form) == (1.0, ("ellipse",))


def test_an_area_with_a_name_alone_changes_what_it_gives(tmp_path):
    crab, small = load_job(write_job(tmp_path, CONTRACT_JOB + SMALL)).stickers
    (area,) = small.area
    assert (area.fill, area.at, area.smoothing) == ("sand", crab.area[0].at, crab.area[0].smoothing)
    assert crab.area[0].fill == "kelp"


def test_other_areas_are_added():
    base = {"name": "a", "area": [{"name": "shell", "at": [0.1, 0.2]}]}
    own = {"name": "b", "like": "a", "area": [{"name": "eye", "at": [0.5, 0.5]}]}
    (_, full), problem = written_out([base, own])
    assert problem is None
    assert [area["name"] for area in full["area"]] == ["shell", "eye"]
    assert len(base["area"]) == 1


def test_one_may_be_like_one_that_is_like_another(tmp_path):
    third = '\n[[sticker]]\nname = "tiny"\nlike = "crab-small"\nwidth = "9 mm"\n'
    job = load_job(write_job(tmp_path, CONTRACT_JOB + third + SMALL))
    tiny = next(sticker for sticker in job.stickers if sticker.name == "tiny")
    assert (tiny.width, tiny.ground, tiny.copies) == (9.0, "sand", 1)
    assert job.model_of(tiny).name == "crab"


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('like = "crab"', 'like = "crib"', r'like of .*"crab-small" is "crib", which is not the name'),
        ('like = "crab"', 'like = "crab-small"', r"leads back to itself"),
        ("copies = 3", "copies = 0", r"copies of .* must be a whole number"),
        ("copies = 3", 'copies = 3\nat = ["20 mm", "20 mm"]', r"copies of .* would lie on one another"),
    ],
)
def test_what_cannot_be_is_refused_with_its_line(tmp_path, old, new, message):
    with pytest.raises(InputError, match=message) as caught:
        load_job(write_job(tmp_path, CONTRACT_JOB + SMALL.replace(old, new)))
    assert "line " in str(caught.value)


def test_a_copy_s_name_must_be_free(tmp_path):
    clash = '\n[[sticker]]\nname = "crab-small-2"\nlike = "crab"\n'
    with pytest.raises(InputError, match="clashes"):
        load_job(write_job(tmp_path, CONTRACT_JOB + SMALL + clash))


def test_copies_are_numbered_from_the_second():
    assert copy_names("crab", 3) == ["crab", "crab-2", "crab-3"]

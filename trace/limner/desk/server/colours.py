"""The colours of a job, for the screen and for the press."""

from typing import Any

from limner.colour import BUILT_IN, Palette, Press
from limner.errors import InputError
from limner.job import Job, job_palette, job_press

__all__ = ["colours_json", "palette_of"]


def palette_of(job: Job) -> Palette:
    """The job's colours; as without a profile where that one cannot be used."""
    try:
        return job_palette(job, job_press(job))
    except InputError:
        return job_palette(job, Press())


def colours_json(palette: Palette) -> list[dict[str, Any]]:
    """Each colour by name, those of the job before those that are built in."""
    names = sorted(palette.specs, key=lambda name: name in BUILT_IN and palette.specs[name] == BUILT_IN[name])
    return [
        {
            "name": name,
            "screen": palette.of(name).screen,
            "press": None if palette.specs[name].cmyk is None else list(palette.specs[name].cmyk or ()),
            "built_in": palette.specs[name] == BUILT_IN.get(name),
        }
        for name in names
    ]

"""The colours of a job, on the press that it is printed on."""

from limner.colour import Palette, Press
from limner.errors import InputError
from limner.job.load import Job
from limner.job.values import quoted

__all__ = ["job_palette", "job_press"]

# An ICC profile of a press is a few megabytes at most.
_LARGEST_PROFILE_BYTES = 50_000_000


def job_press(job: Job) -> Press:
    """The press that the job's profile describes.

    Raises
    ------
    InputError
        The profile cannot be read, or is none of a press in CMYK.
    """
    name = job.tables.print.profile
    if name is None:
        return Press()
    where = f"{job.where(('print', 'profile'))}: {quoted(name)}"
    try:
        path = job.folder / name
        if not path.is_file() or path.stat().st_size > _LARGEST_PROFILE_BYTES:
            raise InputError(f"{where} is not an ICC profile: ask the printing company for theirs.")
        return Press(path.read_bytes(), where)
    except (OSError, ValueError) as error:
        raise InputError(f"{where} cannot be read: check its name and rights.") from error


def job_palette(job: Job, press: Press) -> Palette:
    """The job's colours on that press."""
    return Palette(job.tables.colours, press)

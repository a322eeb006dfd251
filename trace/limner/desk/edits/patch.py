"""A change of a text as what was cut out and what was put in: it is taken back exactly."""

from dataclasses import dataclass

__all__ = ["Patch", "patch_between"]


@dataclass(frozen=True, slots=True)
class Patch:
    """One stretch of a text that gives way to another.

    Parameters
    ----------
    start : int
        Where it begins, in characters.
    old, new : str
        What was there, and what takes its place.
    """

    start: int
    old: str
    new: str

    @property
    def inverse(self) -> "Patch":
        """What takes the change back."""
        return Patch(self.start, self.new, self.old)

    def apply(self, text: str) -> str:
        """Change a text.

        Raises
        ------
        ValueError
            It is not the text that the patch was made for.
        """
        end = self.start + len(self.old)
        if text[self.start : end] != self.old:
            raise ValueError("the patch belongs to another text")
        return text[: self.start] + self.new + text[end:]


def patch_between(old: str, new: str) -> Patch:
    """The shortest single stretch that turns one text into the other."""
    start = _alike(old, new)
    tail = _alike(old[start:][::-1], new[start:][::-1])
    return Patch(start, old[start : len(old) - tail], new[start : len(new) - tail])


def _alike(one: str, other: str) -> int:
    """How many signs two texts have in common from their beginning."""
    pairs = enumerate(zip(one, other, strict=False))
    return next((place for place, (a, b) in pairs if a != b), min(len(one), len(other)))

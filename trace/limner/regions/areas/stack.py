"""Which area lies above which: outer before inner, large before small, and as the user asks."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from limner.regions.faces.walk import Faces
from limner.regions.settings import AreaRule

__all__ = ["Stack", "open_faces", "stack_areas"]


@dataclass(frozen=True, slots=True, eq=False)
class Stack:
    """Faces that are filled, bottom to top.

    Parameters
    ----------
    faces : Faces
        All faces.
    order : tuple of int
        Numbers of those that are filled.
    """

    faces: Faces
    order: tuple[int, ...]

    @property
    def place_of(self) -> dict[int, int]:
        """Place in the stack of each face that is filled."""
        return {face: place for place, face in enumerate(self.order)}

    def parents(self) -> list[int | None]:
        """For each area the place of the nearest one around it; None directly on the page."""
        place_of = self.place_of
        return [
            next((place_of[face] for face in self.faces.around(number) if face in place_of), None)
            for number in self.order
        ]

    def neighbours(self) -> list[set[int]]:
        """For each area the places of those that it has a border with."""
        place_of = self.place_of
        beside: list[set[int]] = [set() for _ in self.order]
        for left, right in self.faces.side[self.faces.active].tolist():
            if left != right and left in place_of and right in place_of:
                beside[place_of[left]].add(place_of[right])
                beside[place_of[right]].add(place_of[left])
        return beside


def stack_areas(
    faces: Faces, rule_of: Mapping[int, AreaRule], inside: Sequence[tuple[float, float]]
) -> Stack:
    """Order the faces that are filled.

    Parameters
    ----------
    faces : Faces
        All faces.
    rule_of : mapping of int to AreaRule
        Rules of single faces: their places, and which are skipped.
    inside : sequence of (x, y)
        A point in each face: decides between faces of one depth and size.

    Returns
    -------
    Stack
    """

    def place(number: int) -> tuple[int, int, float, tuple[float, float]]:
        rule = rule_of.get(number)
        wanted = (rule.order if rule else None) or 0
        return wanted, faces.depth(number), -faces.faces[number].area, inside[number]

    filled = [n for n in range(len(faces.faces)) if n not in rule_of or not rule_of[n].skip]
    return Stack(faces, tuple(sorted(filled, key=place)))


def open_faces(faces: Faces, rule_of: Mapping[int, AreaRule]) -> frozenset[int]:
    """Faces that show what lies under the drawing: skipped ones that lie in no area that is filled."""
    skipped = {number for number, rule in rule_of.items() if rule.skip}
    return frozenset(number for number in skipped if skipped.issuperset(faces.around(number)))

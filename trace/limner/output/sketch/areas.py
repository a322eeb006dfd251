"""The areas of a sketch as a file in which each can be named, coloured and smoothed."""

from collections.abc import Sequence

from limner.model.regionmap import Area

__all__ = ["areas_file"]

# Fractions of the page to a ten-thousandth: a hundredth of a millimetre on a page of 100 mm.
_DIGITS = 4


def areas_file(
    areas: Sequence[Area], fills: Sequence[str], page_mm: tuple[float, float, float, float], sketch: str
) -> bytes:
    """Write an `[[area]]` table for each area.

    Parameters
    ----------
    areas : sequence of Area
        The areas, bottom to top.
    fills : sequence of str
        Screen colour "#rrggbb" of each.
    page_mm : tuple of float
        Left, top, width and height of the page in millimetres of the drawing.
    sketch : str
        Name of the sketch, for the first line.

    Returns
    -------
    bytes
        A TOML file that `limner trace --zones` reads. Areas whose inside lies beyond the page, as in the half
        that mirroring adds, are left out.
    """
    import tomlkit

    left, top, width, height = page_mm
    file = tomlkit.document()
    file.add(
        tomlkit.comment(f"Areas of {sketch}, bottom to top: at is a point in it, as fractions of the page.")
    )
    tables = tomlkit.aot()
    for area, fill in zip(areas, fills, strict=True):
        at = [
            round((area.inside[0] - left) / width, _DIGITS),
            round((area.inside[1] - top) / height, _DIGITS),
        ]
        if not all(0.0 <= fraction <= 1.0 for fraction in at):
            continue
        table = tomlkit.table()
        table.add("at", at)
        table.add("name", area.name)
        table.add("fill", fill)
        tables.append(table)
    if len(tables):
        file.add("area", tables)
    return tomlkit.dumps(file).encode("utf-8")

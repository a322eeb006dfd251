"""Drawings made at random: what hands and scanners bring, and what nobody thought of.

A number gives a drawing, always the same one: what is drawn, with which pencil, on which paper, and the file
that a scanner or a camera makes of it.
"""

from collections.abc import Callable
from io import BytesIO

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

__all__ = ["FORMATS", "KINDS", "MOST_PX", "drawing_file"]

Canvas = NDArray[np.uint8]
"""Ink, 0 to 255, shape (height, width)."""

MOST_PX = 1600
"""Longest side of a drawing."""

# Points are given to OpenCV with this many binary digits behind the point.
_SHIFT = 4


class Pencil:
    """Draws on a canvas; lengths are shares of its smaller side, widths are in pixels."""

    def __init__(self, rng: np.random.Generator, canvas: Canvas, width_px: float) -> None:
        self.rng = rng
        self.canvas = canvas
        self.width_px = width_px
        self.side = float(min(canvas.shape))
        self.size = np.array([canvas.shape[1], canvas.shape[0]], dtype=float)

    def line(self, points: NDArray[np.float64], width_px: float = 0.0, *, closed: bool = False) -> None:
        width = max(1, round(width_px or self.width_px))
        fixed = np.round(np.asarray(points) * 2**_SHIFT).astype(np.int32)
        cv2.polylines(self.canvas, [fixed], closed, 255, width, cv2.LINE_AA, _SHIFT)

    def fill(self, points: NDArray[np.float64], ink: int = 255) -> None:
        fixed = np.round(np.asarray(points) * 2**_SHIFT).astype(np.int32)
        cv2.fillPoly(self.canvas, [fixed], ink, cv2.LINE_AA, _SHIFT)

    def places(self, count: int, margin: float = 0.08) -> NDArray[np.float64]:
        """Random points on the page, shape (count, 2); a negative margin allows some beyond it."""
        return self.size * self.rng.uniform(margin, 1.0 - margin, (count, 2))

    def oval(
        self,
        centre: NDArray[np.float64],
        radius: float,
        wobble: float = 0.0,
        from_deg: float = 0.0,
        to_deg: float = 360.0,
    ) -> NDArray[np.float64]:
        turn = np.radians(np.linspace(from_deg, to_deg, 90))
        phase, squash = self.rng.uniform(0, 2 * np.pi), self.rng.uniform(0.6, 1.0)
        r = radius * (1.0 + wobble * np.sin(5 * turn + phase))
        return centre + np.stack([r * np.cos(turn), squash * r * np.sin(turn)], axis=1)


def _lines(pencil: Pencil) -> None:
    for _ in range(int(pencil.rng.integers(1, 40))):
        pencil.line(pencil.places(2, pencil.rng.choice([0.08, -0.1])))


def _dots(pencil: Pencil) -> None:
    count = int(pencil.rng.choice([1, 2, 3, 20, 200, 900]))
    for place in pencil.places(count, 0.02):
        radius = pencil.rng.uniform(0.3, 1.5) * pencil.width_px
        pencil.fill(pencil.oval(place, radius))


def _grid(pencil: Pencil) -> None:
    columns, rows = pencil.rng.integers(1, 70, 2)
    low, high = np.array([0.05, 0.95]) if pencil.rng.random() < 0.6 else np.array([-0.1, 1.1])
    # Lines that stand closer than their own width are no grid.
    width = min(pencil.width_px, 0.4 * pencil.side / max(columns, rows))
    for x in np.linspace(low, high, columns + 1):
        pencil.line(pencil.size * [[x, low], [x, high]], width)
    for y in np.linspace(low, high, rows + 1):
        pencil.line(pencil.size * [[low, y], [high, y]], width)


def _hatching(pencil: Pencil) -> None:
    outline = pencil.oval(pencil.size / 2, 0.42 * pencil.side, 0.05)
    if pencil.rng.random() < 0.6:
        pencil.line(outline, closed=True)
    for _ in range(int(pencil.rng.integers(1, 4))):
        angle, step = pencil.rng.uniform(0, np.pi), pencil.rng.uniform(1.6, 8.0) * pencil.width_px
        along, across = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
        for offset in np.arange(-0.36 * pencil.side, 0.36 * pencil.side, step):
            half = np.sqrt((0.38 * pencil.side) ** 2 - offset**2) * pencil.rng.uniform(0.75, 1.15)
            middle = pencil.size / 2 + offset * across
            pencil.line(np.stack([middle - half * along, middle + half * along]))


def _fur(pencil: Pencil) -> None:
    for _ in range(int(pencil.rng.integers(1, 3))):
        outline = pencil.oval(pencil.places(1, 0.35)[0], pencil.rng.uniform(0.15, 0.4) * pencil.side, 0.1)
        count = int(pencil.rng.integers(20, 500))
        for at in pencil.rng.uniform(0, len(outline) - 1, count):
            root = outline[int(at)] + pencil.rng.normal(0, 0.01 * pencil.side, 2)
            hair = pencil.rng.normal(0, 0.05 * pencil.side, 2)
            bend = pencil.rng.normal(0, 0.01 * pencil.side, 2)
            pencil.line(np.stack([root, root + hair / 2 + bend, root + hair]))


def _thick_beside_thin(pencil: Pencil) -> None:
    bold = pencil.width_px * pencil.rng.uniform(3, 9)
    body = pencil.oval(pencil.size / 2, 0.38 * pencil.side, 0.08)
    pencil.line(body, bold, closed=True)
    for place in pencil.places(int(pencil.rng.integers(2, 14)), 0.3):
        if pencil.rng.random() < 0.5:
            pencil.line(pencil.oval(place, pencil.rng.uniform(0.02, 0.1) * pencil.side), closed=True)
        else:
            pencil.line(place + pencil.rng.normal(0, 0.08 * pencil.side, (3, 2)))


def _scribbled_polygons(pencil: Pencil) -> None:
    for _ in range(int(pencil.rng.integers(1, 9))):
        corners = pencil.places(int(pencil.rng.integers(3, 9)), pencil.rng.choice([0.08, -0.05]))
        pencil.line(corners, closed=bool(pencil.rng.random() < 0.8))


def _spirals(pencil: Pencil) -> None:
    for _ in range(int(pencil.rng.integers(1, 4))):
        turns = pencil.rng.uniform(1, 12)
        turn = np.linspace(0, turns * 2 * np.pi, int(turns * 60))
        radius = pencil.rng.uniform(0.1, 0.45) * pencil.side * turn / turn[-1]
        centre = pencil.places(1, 0.35)[0]
        pencil.line(centre + np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=1))


def _writing(pencil: Pencil) -> None:
    """Rows of small strokes, as letters have them."""
    height = pencil.rng.uniform(0.03, 0.2) * pencil.side
    width = min(pencil.width_px, height / 5)
    for top in np.arange(0.1 * pencil.side, pencil.size[1] - 0.1 * pencil.side, 1.7 * height):
        left = 0.1 * pencil.side
        while left < pencil.size[0] - 0.1 * pencil.side - height:
            stems = [0.0, 0.6 * height] * pencil.rng.uniform(0, 1, (int(pencil.rng.integers(2, 6)), 2)).round(
                1
            )
            rows = pencil.rng.choice([0.0, 0.5, 1.0], len(stems)) * height
            letter = np.stack([left + stems[:, 1], top + rows], axis=1)
            pencil.line(letter, width)
            left += pencil.rng.choice([0.8, 0.8, 0.8, 1.6]) * height


def _solid_blacks(pencil: Pencil) -> None:
    pencil.line(pencil.oval(pencil.size / 2, 0.42 * pencil.side, 0.05), closed=True)
    for place in pencil.places(int(pencil.rng.integers(1, 12)), 0.15):
        radius = pencil.rng.uniform(0.02, 0.2) * pencil.side
        if pencil.rng.random() < 0.6:
            pencil.fill(pencil.oval(place, radius, pencil.rng.choice([0.0, 0.3])))
        else:
            pencil.fill(place + pencil.rng.normal(0, radius, (4, 2)))
        if pencil.rng.random() < 0.3:
            pencil.fill(pencil.oval(place, 0.4 * radius), 0)
        if pencil.rng.random() < 0.3:
            pencil.fill(pencil.oval(place, 0.15 * radius))


def _nested(pencil: Pencil) -> None:
    centre = pencil.places(1, 0.4)[0]
    for radius in np.arange(
        1.5 * pencil.width_px, 0.48 * pencil.side, pencil.rng.uniform(2, 20) * pencil.width_px
    ):
        gap = pencil.rng.choice([0.0, 0.0, 4.0, 25.0])
        start = pencil.rng.uniform(0, 360)
        pencil.line(pencil.oval(centre, radius, 0.0, start, start + 360 - gap), closed=bool(gap == 0))


def _half_figure(pencil: Pencil) -> None:
    """Half a face up to a line that need not be there, which stops short or runs over by a little."""
    middle = pencil.size / 2
    x = middle[0]
    reach = 0.01 * pencil.side
    for radius, at in ((0.42, 0.0), (0.12, 0.15), (0.06, -0.1)):
        arc = pencil.oval(np.array([x, middle[1] + at * pencil.side]), radius * pencil.side, 0.0, 90, 270)
        pencil.line(arc + pencil.rng.normal(0, reach, 2))
    pencil.line(pencil.oval(middle - [0.2 * pencil.side, 0.1 * pencil.side], 0.06 * pencil.side), closed=True)
    if pencil.rng.random() < 0.4:
        pencil.line(np.array([[x, 0.05 * pencil.size[1]], [x, 0.95 * pencil.size[1]]]), pencil.width_px / 2)


def _whole_figure(pencil: Pencil) -> None:
    """A face whose halves nearly match."""
    for _ in range(int(pencil.rng.integers(2, 6))):
        loop = pencil.oval(pencil.places(1, 0.3)[0], pencil.rng.uniform(0.03, 0.12) * pencil.side)
        pencil.line(loop, closed=True)
        other = loop * [-1, 1] + [pencil.size[0], 0]
        pencil.line(other + pencil.rng.normal(0, 0.004 * pencil.side, 2), closed=True)
    pencil.line(pencil.oval(pencil.size / 2, 0.44 * pencil.side), closed=True)


def _border(pencil: Pencil) -> None:
    """Frames along the page's border, and lines that run off it."""
    inset = pencil.rng.choice([-1.0, 0.0, 1.0, 4.0]) * pencil.width_px
    low, high = np.array([inset, inset]), pencil.size - inset
    pencil.line(np.array([low, [high[0], low[1]], high, [low[0], high[1]]]), closed=True)
    for _ in range(int(pencil.rng.integers(0, 6))):
        pencil.line(pencil.places(3, -0.3))


def _loops(pencil: Pencil) -> None:
    """One line that crosses itself again and again."""
    heading = np.cumsum(pencil.rng.normal(0, 0.3, int(pencil.rng.integers(30, 600))))
    walk = np.cumsum(np.stack([np.cos(heading), np.sin(heading)], axis=1), axis=0)
    span = np.ptp(walk, axis=0)
    pencil.line((0.1 + 0.8 * (walk - walk.min(axis=0)) / np.maximum(span, 1e-9)) * pencil.size)


def _tiny(pencil: Pencil) -> None:
    """As good as nothing: a pixel, a hair, two specks in opposite corners."""
    height, width = pencil.canvas.shape
    match int(pencil.rng.integers(0, 4)):
        case 0:
            pencil.canvas[height // 2, width // 3] = 255
        case 1:
            pencil.canvas[height // 2, :] = 255
        case 2:
            pencil.canvas[1, 1] = pencil.canvas[-2, -2] = 255
        case 3:
            pencil.fill(pencil.oval(pencil.places(1)[0], pencil.rng.uniform(1, 4)))


def _texture(pencil: Pencil) -> None:
    """A page full of it: squares, or ink as dense as an engraving's."""
    height, width = pencil.canvas.shape
    y, x = np.mgrid[0:height, 0:width]
    cell = int(pencil.rng.integers(2, 40))
    if pencil.rng.random() < 0.5:
        pencil.canvas[(x // cell + y // cell) % 2 == 0] = 255
    else:
        wave = np.sin(x / cell + 3 * np.sin(y / (4 * cell)))
        pencil.canvas[wave > pencil.rng.uniform(-0.5, 0.8)] = 255


KINDS: tuple[Callable[[Pencil], None], ...] = (
    _lines, _dots, _grid, _hatching, _fur, _thick_beside_thin, _scribbled_polygons, _spirals, _writing,
    _solid_blacks, _nested, _half_figure, _whole_figure, _border, _loops, _tiny, _texture,
)  # fmt: skip
"""What is drawn; the drawing of a number has that of its remainder, and every fourth another one over it."""


def _grey(rng: np.random.Generator, ink: Canvas) -> NDArray[np.float64]:
    """Light on the page, 0 to 1: paper, ink, a blur, uneven light, grain."""
    if rng.random() < 0.5:
        ink = cv2.GaussianBlur(ink, (0, 0), float(rng.uniform(0.4, 1.4)))
    paper, dark = rng.uniform(0.8, 1.0), rng.choice([1.0, 1.0, 0.85, 0.5])
    light = paper * (1.0 - dark * ink / 255.0)
    if rng.random() < 0.4:
        height, width = ink.shape
        slope = rng.uniform(-0.2, 0.2, 2)
        light = light * (0.9 + slope[0] * (np.arange(width) / width - 0.5))
        light = light * (1.0 + slope[1] * (np.arange(height)[:, None] / height - 0.5))
    if rng.random() < 0.4:
        light = light + rng.normal(0, 0.015, ink.shape)
    return np.asarray(np.clip(light, 0.0, 1.0))


def _eight(light: NDArray[np.float64]) -> Image.Image:
    return Image.fromarray(np.round(light * 255).astype(np.uint8))


def _one_bit(light: NDArray[np.float64]) -> Image.Image:
    return Image.fromarray(light > 0.6)


def _sixteen(light: NDArray[np.float64]) -> Image.Image:
    return Image.fromarray(np.round(light * 65535).astype(np.uint16))


def _alpha(light: NDArray[np.float64]) -> Image.Image:
    """Black on nothing."""
    pixels = np.zeros((*light.shape, 4), np.uint8)
    pixels[..., 3] = np.round((1.0 - light) * 255)
    return Image.fromarray(pixels)


def _grey_alpha(light: NDArray[np.float64]) -> Image.Image:
    return Image.merge("LA", (_eight(light), Image.new("L", light.shape[::-1], 255)))


def _palette(light: NDArray[np.float64]) -> Image.Image:
    return _eight(light).quantize(16)


FORMATS: dict[str, tuple[Callable[[NDArray[np.float64]], Image.Image], str, dict[str, object]]] = {
    "8 bit PNG": (_eight, "PNG", {}),
    "1 bit PNG": (_one_bit, "PNG", {}),
    "16 bit PNG": (_sixteen, "PNG", {}),
    "palette PNG": (_palette, "PNG", {}),
    "alpha PNG": (_alpha, "PNG", {}),
    "grey with alpha PNG": (_grey_alpha, "PNG", {}),
    "group 4 TIFF": (_one_bit, "TIFF", {"compression": "group4"}),
    "16 bit TIFF": (_sixteen, "TIFF", {}),
    "JPEG": (_eight, "JPEG", {"quality": 80}),
    "RGB WebP": (lambda light: _eight(light).convert("RGB"), "WEBP", {"lossless": True}),
    "palette GIF": (_palette, "GIF", {}),
    "1 bit BMP": (_one_bit, "BMP", {}),
}
"""How the page is kept: picture of its light, kind of file, options."""


def drawing_file(number: int, most_px: int = MOST_PX) -> tuple[bytes, str]:
    """The file of that number, and in a few words what it is.

    Parameters
    ----------
    number : int
        The same number gives the same bytes.
    most_px : int
        Longest side; a smaller one makes another drawing of the same kind.

    Returns
    -------
    bytes, str
    """
    rng = np.random.default_rng([11, number])
    width, height = _size_px(rng, most_px)
    line_px = float(np.exp(rng.uniform(np.log(1.0), np.log(14.0))))
    pencil = Pencil(rng, np.zeros((height, width), np.uint8), line_px)
    drawn = [KINDS[number % len(KINDS)]]
    if rng.random() < 0.25:
        drawn.append(KINDS[int(rng.integers(len(KINDS)))])
    for kind in drawn:
        kind(pencil)
    name = list(FORMATS)[int(rng.integers(len(FORMATS)))]
    picture, file, options = FORMATS[name]
    if file in ("PNG", "TIFF", "JPEG") and rng.random() < 0.5:
        dpi = float(rng.choice([72, 96, 150, 300, 600]))
        options = {**options, "dpi": (dpi, dpi)}
    stream = BytesIO()
    picture(_grey(rng, pencil.canvas)).save(stream, file, **options)
    what = " and ".join(kind.__name__.strip("_").replace("_", " ") for kind in drawn)
    return stream.getvalue(), f"{what}, {width} x {height} px, line of {line_px:.1f} px, {name}"


def _size_px(rng: np.random.Generator, most_px: int) -> tuple[int, int]:
    """Mostly pages, sometimes slips and long strips."""
    if rng.random() < 0.3:
        sides = np.exp(rng.uniform(np.log(64), np.log(1500), 2))
    else:
        sides = rng.uniform(150, 900) * np.exp(rng.normal(0, 0.2, 2))
    width, height = np.clip(sides, 64, most_px).astype(int).tolist()
    return width, height

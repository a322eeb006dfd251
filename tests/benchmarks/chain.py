"""The shortest chain of general-purpose library calls from a photograph to shapes, to compare with.

It straightens nothing, closes no gap, knows no shared edges and no curves: what the same libraries take when
nothing is done about a drawing but finding its dark parts.
"""

import sys
from pathlib import Path

import cv2
import numpy as np

# Shares of the picture's width, for a line of 0.5 mm on a page of A5.
BLUR, WINDOW, SMALLEST, TOLERANCE = 0.0005, 0.015, 0.002, 0.0004
DARKER = 12


def main(source: str, target: str) -> None:
    grey = cv2.imread(source, cv2.IMREAD_GRAYSCALE)
    height, width = grey.shape
    grey = cv2.GaussianBlur(grey, (0, 0), max(0.5, BLUR * width))
    window = int(WINDOW * width) // 2 * 2 + 3
    ink = cv2.adaptiveThreshold(grey, 255, cv2.ADAPTIVE_THRESH_MEAN_C, cv2.THRESH_BINARY_INV, window, DARKER)
    _, labels, statistics, _ = cv2.connectedComponentsWithStats(ink)
    large = statistics[:, cv2.CC_STAT_AREA] >= (SMALLEST * width) ** 2
    large[0] = False
    ink = large[labels].astype(np.uint8)
    contours, _ = cv2.findContours(ink, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    paths = []
    for contour in contours:
        points = cv2.approxPolyDP(contour, TOLERANCE * width, closed=True)[:, 0]
        # From the last point through all of them, so that there is one L for each node.
        corners = [f"{x} {y}" for x, y in points.tolist()]
        paths.append(f"M{'L'.join([corners[-1], *corners])}Z")
    Path(target).write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}">'
        f'<path fill-rule="evenodd" d="{"".join(paths)}"/></svg>'
    )


if __name__ == "__main__":
    main(*sys.argv[1:3])

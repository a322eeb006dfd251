"""What is drawing and what is not, on pages whose every mark is known."""

import cv2
import numpy as np
import pytest

from helpers_ink import Sketch, circle, flat, ink_on_page, ink_score, share_kept
from limner.ink.extract import extract_ink
from limner.ink.ruling.find import find_ruling
from limner.ink.settings import InkSettings

WIDTH = 7.0


def face() -> Sketch:
    """A round face with a mouth: what every page here holds, drawn in one pencil."""
    return (
        Sketch()
        .stroke(circle(700, 500, 350), WIDTH, closed=True)
        .stroke([(550, 650), (620, 700), (700, 715), (780, 700), (850, 650)], WIDTH)
    )


def found(sketch: Sketch, settings: InkSettings | None = None, **page: float) -> np.ndarray:
    page_ = sketch.page(**page)
    return ink_on_page(extract_ink(page_, settings or InkSettings()), page_.grey.shape)


def test_the_drawing_and_nothing_else():
    sketch = face()
    assert ink_score(found(sketch) >= 0.5, sketch.ink >= 0.5, within_px=1.0) >= 0.999


def test_faint_and_pressed_lines_of_one_drawing_are_both_kept():
    sketch = face()
    faint = sketch.coverage([(480, 420), (560, 380), (640, 420)], WIDTH)
    sketch.put(faint, tone=0.68)
    assert share_kept(found(sketch), faint) >= 0.95


def test_the_outline_of_a_faint_line_lies_where_that_of_a_pressed_one_does():
    widths = []
    for tone in (0.25, 0.75):
        sketch = face()
        line = sketch.coverage([(450, 500), (950, 500)], WIDTH)
        cov = found(sketch.put(line, tone), noise=0.004)
        # The sum of a symmetric soft profile is the distance between its half-way points.
        widths.append(float(cov[480:520, 600:800].sum(axis=0).mean()))
    true_width = float(line[480:520, 700].sum())
    assert widths == pytest.approx([true_width, true_width], abs=0.2)


def test_erased_ghosts_and_smudges_are_left_out():
    sketch = face()
    ghost = sketch.coverage(circle(730, 520, 300), WIDTH, closed=True)
    smudge = np.clip(cv2.GaussianBlur(sketch.coverage([(300, 850), (700, 900)], 60), (0, 0), 20), 0, 1)
    sketch.put(ghost, tone=0.9, meant=False).put(smudge, tone=0.7, meant=False)
    cov = found(sketch)
    alone = (ghost >= 0.5) & (cv2.dilate(sketch.ink, np.ones((9, 9))) < 0.1)
    assert cov[alone].max() == 0.0
    assert share_kept(cov, smudge) == 0.0
    assert ink_score(cov >= 0.5, sketch.ink >= 0.5, within_px=1.0) >= 0.995


def test_specks_go_and_freckles_stay():
    sketch = face()
    rng = np.random.default_rng(4)
    specks = np.zeros_like(sketch.ink)
    for x, y in rng.uniform([20, 20], [1380, 980], (60, 2)):
        specks = np.maximum(specks, sketch.coverage([(x, y)], 0.35 * WIDTH))
    specks[cv2.dilate(sketch.ink, np.ones((25, 25))) > 0] = 0
    sketch.put(specks, tone=0.5, meant=False)
    freckles = [sketch.coverage([(x, y)], WIDTH) for x, y in ((520, 560), (545, 590), (850, 570), (880, 600))]
    for freckle in freckles:
        sketch.put(freckle, tone=0.35)
    cov = found(sketch)
    assert cov[specks >= 0.5].max() == 0.0
    assert min(share_kept(cov, freckle) for freckle in freckles) >= 0.7


@pytest.mark.parametrize("tilt", [0.0, 0.03, -0.12])
def test_ruled_paper_is_taken_out_and_the_drawing_mended(tilt):
    sketch = face()
    rules = np.zeros_like(sketch.ink)
    for y in np.arange(-170, 1200, 62):
        rules = np.maximum(rules, sketch.coverage([(-10, y), (1410, y + 1420 * tilt)], 3.0))
    sketch.put(rules, tone=0.65, meant=False)
    cov = found(sketch)
    bare = (rules >= 0.5) & (cv2.dilate(sketch.ink, np.ones((21, 21))) < 0.1)
    assert (cov[bare] >= 0.5).mean() <= 0.001
    assert share_kept(cov, sketch.ink) >= 0.97


def test_squared_paper_is_taken_out():
    sketch = face()
    grid = np.zeros_like(sketch.ink)
    for at in np.arange(25, 1400, 48):
        grid = np.maximum(grid, sketch.coverage([(at, -10), (at, 1010)], 2.5))
        grid = np.maximum(grid, sketch.coverage([(-10, at), (1410, at)], 2.5))
    cov = found(sketch.put(grid, tone=0.75, meant=False))
    bare = (grid >= 0.5) & (cv2.dilate(sketch.ink, np.ones((21, 21))) < 0.1)
    assert (cov[bare] >= 0.5).mean() <= 0.001
    assert share_kept(cov, sketch.ink) >= 0.97


def test_the_margin_line_of_ruled_paper_goes_with_its_lines():
    sketch = face()
    rules = sketch.coverage([(160, -10), (165, 1010)], 3.0)
    for y in np.arange(40, 1000, 62):
        rules = np.maximum(rules, sketch.coverage([(-10, y), (1410, y + 6)], 3.0))
    cov = found(sketch.put(rules, tone=0.65, meant=False))
    bare = (rules >= 0.5) & (cv2.dilate(sketch.ink, np.ones((21, 21))) < 0.1)
    assert (cov[bare] >= 0.5).mean() <= 0.001
    assert share_kept(cov, sketch.ink) >= 0.97


def test_a_stroke_along_a_printed_line_stays():
    sketch = face()
    rules = np.zeros_like(sketch.ink)
    for y in np.arange(40, 1000, 62):
        rules = np.maximum(rules, sketch.coverage([(-10, y), (1410, y)], 2.5))
    stroke = sketch.coverage([(480, 412), (900, 414)], WIDTH)
    sketch.put(rules, tone=0.8, meant=False).put(stroke, tone=0.35)
    assert share_kept(found(sketch), stroke) >= 0.95


def test_rows_of_letters_are_no_ruling():
    from skimage import data

    # skimage.data.page(): seven rows of print, evenly spaced.
    assert find_ruling((data.page() / 255).astype(np.float32), 1.0) == ()


def test_ruling_can_be_kept():
    sketch = face()
    rules = np.zeros_like(sketch.ink)
    for y in np.arange(40, 1000, 62):
        rules = np.maximum(rules, sketch.coverage([(-10, y), (1410, y)], 3.0))
    sketch.put(rules, tone=0.5)
    assert share_kept(found(sketch, InkSettings(ruling=False)), rules) >= 0.9


def test_parallel_lines_that_are_drawn_are_no_ruling():
    sketch = face()
    stripes = [sketch.coverage([(420, y), (980, y)], WIDTH) for y in range(300, 600, 50)]
    for stripe in stripes:
        sketch.put(stripe, tone=0.35)
    cov = found(sketch)
    assert min(share_kept(cov, stripe) for stripe in stripes) >= 0.95


def test_the_edge_of_a_shadow_is_no_line():
    sketch = face()
    side = np.zeros_like(sketch.ink)
    side[:, 1150:] = 1.0
    side[:, :120] = 1.0
    cov = found(sketch.put(side, tone=0.8, meant=False))
    assert cov[:, 1100:1200].max() == 0.0
    assert cov[:, 60:180].max() == 0.0


def test_the_table_beyond_the_paper_is_left_out():
    sketch = face()
    table = np.zeros((1000, 1400), np.uint8)
    cv2.fillPoly(table, [np.array([(0, 0), (1400, 0), (1400, 40), (700, 28), (0, 60)])], 1)
    cv2.fillPoly(table, [np.array([(1400, 1000), (1250, 1000), (1400, 700)])], 1)
    cov = found(sketch.put(table.astype(np.float32), tone=0.3, meant=False))
    assert cov[table > 0].max() == 0.0
    assert ink_score(cov >= 0.5, sketch.ink >= 0.5, within_px=1.0) >= 0.995


def test_a_black_figure_that_runs_off_the_page_stays():
    sketch = face()
    figure = np.zeros((1000, 1400), np.uint8)
    outline = circle(1380, 500, 120, 9) + np.array([[0, 25], [0, -20]] * 4 + [[0, 0]])
    cv2.fillPoly(figure, [np.rint(outline).astype(np.int32)], 1)
    cov = found(sketch.put(figure.astype(np.float32), tone=0.2))
    assert share_kept(cov, figure.astype(np.float32)) >= 0.98


def test_two_passes_of_the_pencil_are_one_line():
    sketch = face()
    for shift in (0.0, WIDTH * 1.25):
        sketch.stroke([(450, 450 + shift), (950, 440 + shift)], WIDTH)
    mask = found(sketch) >= 0.5
    # One run of ink in each column between the two ends.
    runs = np.diff(mask[425:475, 460:940].astype(np.int8), axis=0).clip(0).sum(axis=0)
    assert (runs == 1).mean() >= 0.99


def test_small_shapes_stay_open():
    sketch = face()
    loop = circle(700, 560, 1.4 * WIDTH)
    sketch.stroke(loop, WIDTH, closed=True)
    inside = sketch.coverage([(700, 560)], WIDTH)
    assert found(sketch)[inside >= 0.5].min() < 0.5


def test_solid_blacks_are_told_from_lines_and_filled():
    sketch = face()
    rng = np.random.default_rng(6)
    patch = sketch.coverage([(600, 420)], 90)
    grain = cv2.GaussianBlur(rng.standard_normal(patch.shape).astype(np.float32), (0, 0), 1.2)
    graphite = patch * np.clip(0.75 + 0.35 * grain / grain.std() * 0.5, 0.2, 1).astype(np.float32)
    sketch.put(graphite, tone=0.3)
    page = sketch.page()
    ink = extract_ink(page, InkSettings())
    step = ink.to_photo[0, 0]
    solid = cv2.resize(ink.solid.astype(np.float32), (1400, 1000)) if step == 1 else None
    assert solid is not None
    assert (solid[patch >= 0.5] >= 0.5).mean() >= 0.9
    assert (solid[patch < 0.01] >= 0.5).mean() == 0.0
    paper = ((ink.coverage < 0.5) & (cv2.dilate(patch, np.ones((15, 15))) > 0)).astype(np.uint8)
    # One piece of paper: that around the patch.
    assert cv2.connectedComponents(paper, connectivity=4)[0] - 1 == 1


def test_crayon_is_paint_where_the_lines_are_graphite():
    sketch = face()
    page = sketch.page()
    colour = page.colour.copy()
    crayon = sketch.coverage([(560, 480), (840, 480)], 160) > 0.5
    colour[crayon] = (colour[crayon] * np.array([0.97, 0.62, 0.2])).astype(np.uint8)
    grey = (colour @ np.array([0.299, 0.587, 0.114]) / 255).astype(np.float32)
    ink = extract_ink(flat(grey, colour), InkSettings())
    cov = ink_on_page(ink, grey.shape)
    assert (cov[crayon] >= 0.5).mean() <= 0.005
    assert share_kept(cov, sketch.ink) >= 0.97


def test_the_result_does_not_depend_on_the_scale_of_the_photograph():
    sketch = face()
    page = sketch.page(noise=0.0)
    large = flat(cv2.resize(page.grey, None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC))
    one, two = (extract_ink(p, InkSettings()) for p in (page, large))
    assert one.line_width_px * one.to_photo[0, 0] == pytest.approx(WIDTH, abs=0.3)
    assert two.line_width_px * two.to_photo[0, 0] == pytest.approx(2 * WIDTH, abs=0.6)
    small = cv2.resize(ink_on_page(two, large.grey.shape), (1400, 1000), interpolation=cv2.INTER_AREA)
    assert ink_score(ink_on_page(one, page.grey.shape) >= 0.5, small >= 0.5, within_px=1.0) >= 0.999


def test_the_way_back_to_the_photograph_follows_the_raster():
    page = face().page()
    turned = np.array([[0.0, -2.0, 900.0], [2.0, 0.0, 30.0], [0.0, 0.0, 1.0]])
    large = cv2.resize(page.grey, None, fx=3, fy=3, interpolation=cv2.INTER_LINEAR)
    page3 = flat(large)
    moved = type(page3)(page3.grey, page3.colour, 0.05, turned, "dpi", page3.source)
    ink = extract_ink(moved, InkSettings())
    step = page3.grey.shape[1] / ink.coverage.shape[1]
    assert step == pytest.approx(round(2 * step) / 2)
    assert step > 1
    np.testing.assert_allclose(ink.to_photo, turned @ np.diag([step, step, 1.0]))


def test_the_same_page_gives_the_same_bytes():
    page = face().page()
    first, second = (extract_ink(page, InkSettings()) for _ in range(2))
    assert first.coverage.tobytes() == second.coverage.tobytes()
    assert first.solid.tobytes() == second.solid.tobytes()


# Between crossed lines many meshes are two or three pixels wide.
@pytest.mark.parametrize(("crossed", "alike"), [(False, 0.93), (True, 0.9)])
def test_a_dense_engraving_is_a_drawing(crossed, alike):
    # Swelling lines 9 px apart all over the page, half of which they cover: the median pixel is no paper.
    y, x = np.mgrid[:1000, :1400].astype(np.float32)
    tone = 0.35 + 0.3 * np.exp(-((x - 700) ** 2 / 300**2 + (y - 500) ** 2 / 200**2))
    engraved = np.abs((y + 40 * np.sin(x / 250)) / 9 % 1 - 0.5) * 2 < tone
    if crossed:
        engraved |= np.abs((x + 30 * np.sin(y / 200)) / 9 % 1 - 0.5) * 2 < 0.6 * tone
    sketch = Sketch().put(engraved.astype(np.float32), tone=0.25)
    cov = found(sketch, InkSettings(ruling=False))
    inner = np.s_[20:-20, 20:-20]
    assert float(((cov >= 0.5) == engraved)[inner].mean()) >= alike

"""Wrong versions of limner's key functions, each of which some test must notice.

::

    python tests/robustness/mutation.py            # all, about ten minutes
    python tests/robustness/mutation.py corners    # those of one function

A copy of the package gets one mistake at a time; then the tests of that part run against the copy and must
fail. Prints a line for each mistake, and ends with 1 where one went unnoticed. Not part of the tests: a new
mistake is added here whenever one was made that no test noticed.
"""

# ruff: noqa: E501 (a mistake is easier to read in one line)
import argparse
import os
import shutil
import subprocess
import sys
import sysconfig
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).parents[2]
# The tests of a part take half a minute at most: what takes longer hangs, which is noticed, too.
LONGEST_S = 120
KERNELS = Path("limner/curves/kernels")

TESTS = {
    "corners": ("curves/kernels/test_curves_kernels.py", "curves/data/test_curves_corners.py", "curves/fit/test_curves_fit_basics.py",
                "curves/fit/test_curves_figures.py", "curves/fit/test_curves_promises.py"),
    "fit": ("curves/kernels/test_curves_kernels.py", "curves/kernels/test_curves_loops.py", "curves/fit/test_curves_fit_basics.py",
            "curves/fit/test_curves_figures.py", "curves/fit/test_curves_promises.py"),
    "bridges": ("regions/gaps/test_regions_candidates.py", "regions/gaps/test_regions_bridging.py", "regions/gaps/test_regions_worth.py", "regions/gaps/test_regions_necks.py"),
    "offset": ("sheet/cut/test_sheet_promises.py", "sheet/cut/test_sheet_cut_line.py", "sheet/cut/test_sheet_forms.py"),
    "axis": ("symmetry/find/test_symmetry_evidence.py", "symmetry/find/test_symmetry_axis.py",
             "symmetry/test_symmetry_command.py"),
    "bounds": ("curves/fit/test_curves_bounds.py",),
    "calm": ("curves/calm/test_curves_calm.py", "curves/even/test_even_firm.py", "curves/test_curves_crossings.py"),
    "smoothing": ("curves/test_curves_smoothing.py", "curves/even/test_even_blacks.py"),
    "stack": ("regions/areas/test_regions_order.py",),
    "places": ("pipeline/sketch/test_scale_and_mirror.py", "geometry/test_paper_sizes.py"),
    "layout": ("sheet/test_sheet_free_stickers.py",),
    "inks": ("output/sheet/test_pdf_inks.py", "colour/test_colour_black.py", "pipeline/sheet/test_sheet_colours.py"),
    "proof": ("output/sketch/test_trace_proof.py",),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Mutant:
    """One mistake: in which file, what stands there, what is put in its place."""

    part: str
    path: str
    right: str
    wrong: str


MUTANTS = (
    Mutant("corners", "curves/kernels/corners.c", "{1.5, 6.0, 26.0}", "{1.5, 6.0, 46.0}"),
    Mutant("corners", "curves/kernels/corners.c", "SURE_SIGMAS 4.0", "SURE_SIGMAS 0.0"),
    Mutant("corners", "curves/kernels/corners.c", "APART_TOLERANCES 2.0", "APART_TOLERANCES 12.0"),
    Mutant("corners", "curves/kernels/corners.c", "FARTHEST_TIP 0.85", "FARTHEST_TIP 0.0"),
    Mutant("corners", "curves/kernels/corners.c", "turn[wrapped(task, k)] > turn[i]", "turn[wrapped(task, k)] < turn[i]"),
    Mutant("corners", "curves/kernels/corners.c", "if (made[many].turn < c->limit)", "if (0)"),
    Mutant("corners", "curves/kernels/corners.c", "tilt - 2.0 * middle * bend", "tilt + 2.0 * middle * bend"),
    Mutant("corners", "curves/kernels/corners.c", "one->turn > other->turn ? -1 : 1", "one->turn > other->turn ? 1 : -1"),
    Mutant("corners", "curves/kernels/corners.c", "fmax(0.707 / inner, 1.0)", "1.0"),
    Mutant("fit", "curves/kernels/spans.c", "column[4][k] = -s->off[k];", "column[4][k] = s->off[k];"),
    Mutant("fit", "curves/kernels/spans.c", "if (squared > largest || squared != squared)", "if (squared < largest)"),
    Mutant("fit", "curves/kernels/normal.c", "own -= row[i - j] * row[i - j]", "own -= row[i - j]"),
    Mutant("fit", "curves/kernels/feet.c", "(onward >= 0) == low ? 1.0 : 0.0", "0.0"),
    Mutant("fit", "curves/kernels/polish.c", "better = reached < cost", "better = 1"),
    Mutant("fit", "curves/kernels/polish.c", "p->sharp ? p->base[i] * (", "p->sharp ? p->base[i] + 0.0 * ("),
    Mutant("fit", "curves/fit/attempt.py", "if not abs(ratio - 1.0) < LARGEST_RESCALE", "if abs(ratio - 1.0) < LARGEST_RESCALE"),
    Mutant("fit", "curves/search/fewest.py", "if fit.error <= 1.0:", "if fit.error <= 1.5:"),
    Mutant("bridges", "regions/gaps/candidates.py", "return (1.0 - self.cost) * (1 if self.second is None else 2)", "return 1.0 - self.cost"),
    Mutant("bridges", "regions/gaps/candidates.py", "(1.0 + (bend / _BEND_DEG) ** 2 + (kink / _KINK_DEG) ** 2)", "1.0"),
    Mutant("bridges", "regions/gaps/candidates.py", "(kink / _KINK_DEG) ** 2", "(kink / _BEND_DEG) ** 2"),
    Mutant("bridges", "regions/gaps/candidates.py", "np.abs(turn_first + turn_second) / 2.0, np.abs(turn_first - turn_second) / 2.0", "np.abs(turn_first - turn_second) / 2.0, np.abs(turn_first + turn_second) / 2.0"),
    Mutant("bridges", "regions/gaps/candidates.py", "_LINE_FACTOR = 1.6", "_LINE_FACTOR = 1.0"),
    Mutant("bridges", "regions/gaps/candidates.py", "distance - index.width[at] / 2.0", "distance"),
    Mutant("bridges", "regions/gaps/candidates.py", "clear = ~_runs_over_ink(", "clear = ~np.zeros(len(curves), bool) | _runs_over_ink("),
    Mutant("bridges", "regions/gaps/candidates.py", "good &= (bend < _TURNING_BACK_DEG)", "good |= (bend < _TURNING_BACK_DEG)"),
    Mutant("bridges", "regions/gaps/candidates.py", "> _DETOUR * np.pi / 2.0 * distance", "> 0.0 * distance"),
    Mutant("bridges", "regions/gaps/candidates.py", "(smooth and self.gap <= self.drawn)", "smooth"),
    Mutant("bridges", "regions/gaps/worth.py", "bridge.gap <= radii * min(merging.radius[low], merging.radius[high])", "bridge.gap <= radii * max(merging.radius[low], merging.radius[high])"),
    Mutant("bridges", "regions/gaps/necks.py", "free.append(int(near[row]))", "pass"),
    Mutant("axis", "symmetry/find/axis.py", "<= HALF_SHARE)", ">= HALF_SHARE)"),
    Mutant("axis", "symmetry/find/axis.py", 'keep="left" if left else "right"', 'keep="right" if left else "left"'),
    Mutant("axis", "symmetry/find/axis.py", 'keep="left" if lead > 0 else "right"', 'keep="left" if lead < 0 else "right"'),
    Mutant("axis", "symmetry/find/axis.py", "whole.score < MIN_WHOLE_SCORE", "whole.score < 0.0"),
    Mutant("axis", "symmetry/find/axis.py", "half.score < MIN_HALF_SCORE", "half.score < 0.0"),
    Mutant("axis", "symmetry/find/axis.py", "1.0 + UPRIGHT_BONUS *", "1.0 - UPRIGHT_BONUS *"),
    Mutant("offset", "sheet/cut/offset.py", "_buffer(art, distance_mm + radius_mm)", "_buffer(art, distance_mm)"),
    Mutant("offset", "sheet/cut/offset.py", "_buffer(grown, -radius_mm)", "_buffer(grown, -radius_mm / 2)"),
    Mutant("offset", "sheet/cut/offset.py", "_SAGITTA_MM = 0.0003", "_SAGITTA_MM = 0.4"),
    Mutant("offset", "sheet/cut/offset.py", "int(np.argmin(distances))", "int(np.argmax(distances))"),
    Mutant("offset", "sheet/cut/offset.py", "_buffer(line, neck_mm / 2)", "_buffer(line, neck_mm)"),
    Mutant("offset", "sheet/cut/cut_line.py", "line.min_distance_mm < settings.distance_mm", "line.min_distance_mm < settings.distance_mm - 0.2"),
    Mutant("offset", "sheet/cut/cut_line.py", "return inner >= wanted[0] and", "return"),
    Mutant("offset", "sheet/cut/band_fit.py", "fine = bends.min(axis=1) >= -1.0 / band.inner_radius_mm", "fine = bends.min(axis=1) >= -9.0 / band.inner_radius_mm"),
    Mutant("offset", "sheet/cut/band_fit.py", "(-off / band.inward_mm)", "(off / band.inward_mm)"),
    Mutant("offset", "sheet/cut/cut_line.py", "if not shapely.contains(around, region):", "if False:"),
    Mutant("bounds", "curves/fit/task.py", "LARGEST_STRETCH = 1.25", "LARGEST_STRETCH = 2.0"),
    Mutant("bounds", "curves/fit/budget.py", "RUNG = 1.5", "RUNG = 6.0"),
    Mutant("calm", "curves/kernels/calm.c", "weight[i] *= worst * worst;", "weight[i] *= 1.0;"),
    Mutant("calm", "curves/calm/lines.py", "WAVE_PER_SMOOTHING = 13.0", "WAVE_PER_SMOOTHING = 3.0"),
    Mutant("calm", "curves/calm/corners.py", "corner.turn_deg <= MOST_HIDDEN_DEG", "corner.turn_deg <= 180.0"),
    Mutant("calm", "curves/calm/corners.py", "LEAST_TURN_DEG = (35.0, 50.0)", "LEAST_TURN_DEG = (35.0, 120.0)"),
    Mutant("calm", "curves/even/firm.py", "corner.turn_deg > LEAST_TURN_DEG", "corner.turn_deg > 170.0"),
    Mutant("calm", "curves/crossings.py", "if pieces[a] == pieces[b]:", "if True:"),
    Mutant("smoothing", "curves/drawing.py", "        if area.smoothing_mm is None:", "        if True:"),
    Mutant("smoothing", "curves/drawing.py", "own[edge] = min(own.get(edge, np.inf)", "own[edge] = max(own.get(edge, 0.0)"),
    Mutant("smoothing", "curves/drawing.py", "_ring_smoothing(ring, regions, settings), zones)", "_ring_smoothing(ring, regions, settings), ())"),
    Mutant("smoothing", "curves/drawing.py", "        if zone.nodes is not None:", "        if False:"),
    Mutant("smoothing", "curves/drawing.py", "even_lines(regions, settings, zones, known)", "even_lines(regions, settings, (), known)"),
    Mutant("smoothing", "curves/even/outlines.py", "smoothing_at(s.points, settings.smoothing_mm, zones)", "smoothing_at(s.points, settings.smoothing_mm, ())"),
    Mutant("smoothing", "curves/even/outlines.py", "parts += [black for black in blacks if shapely.intersects(black, inked)]", "pass"),
    Mutant("smoothing", "curves/smoothing.py", "for zone in zones:", "for zone in zones[::-1]:"),
    Mutant("stack", "regions/areas/stack.py", "return wanted, faces.depth(number), -faces", "return faces.depth(number), wanted, -faces"),
    Mutant("stack", "regions/areas/stack.py", "return wanted, faces.depth(number), -faces", "return wanted, faces.depth(number), faces"),
    Mutant("stack", "regions/areas/rules.py", "skip=first.skip or second.skip", "skip=second.skip"),
    Mutant("places", "geometry/lengths.py", "(176.0, 250.0)", "(182.0, 257.0)"),
    Mutant("places", "pipeline/sketch/scale.py", "ink.mask.any(axis=0)", "ink.mask.any(axis=1)"),
    Mutant("places", "pipeline/sketch/axes/figure.py", "self.axis.y_mm * factor + by[1]", "self.axis.y_mm * factor"),
    Mutant("places", "pipeline/sketch/axes/mirroring.py", "(figure.origin_mm[0] * factor, figure.origin_mm[1] * factor)", "figure.origin_mm"),
    Mutant("places", "pipeline/sketch/placing.py", "ring + np.array([left, top])", "ring"),
    Mutant("places", "symmetry/paths/mirror.py", "shape.area_mm2 * after / before if before > 0 else shape.area_mm2", "shape.area_mm2"),
    Mutant("layout", "sheet/compose.py", "sticker.settings.rotate_deg + pose.turn_deg", "pose.turn_deg"),
    Mutant("layout", "sheet/compose.py", "settings.layout.clearance_mm - settings.layout.gap_mm", "settings.layout.clearance_mm - settings.layout.gap_mm - 0.6"),
    Mutant("inks", "output/sheet/pdf.py", "CS 1 SCN", "CS 0.4 SCN"),
    Mutant("inks", "output/sheet/pdf.py", "overprint_black=False", "overprint_black=True"),
    Mutant("inks", "colour/press.py", "BLACKPOINTCOMPENSATION if intent", "NONE if intent"),
    Mutant("inks", "colour/palette.py", "_NEUTRAL_SPREAD = 10", "_NEUTRAL_SPREAD = 40"),
    Mutant("inks", "pipeline/sheet/build.py", ' or shape.inked', ""),
    Mutant("proof", "output/sketch/proof.py", "0.2 * _PANEL_PX / scale", "0.4 * _PANEL_PX / scale"),
    Mutant("proof", "output/sketch/proof.py", "x1 - length * scale", "x1 - 2 * length * scale"),
    Mutant("proof", "output/sketch/proof.py", "if is_smooth\n        else", "if not is_smooth\n        else"),
    Mutant("proof", "output/sketch/proof.py", "        + gaps\n", ""),
)  # fmt: skip


def compile_kernels(source: Path) -> None:
    """Compile the loops of a copy in place, without optimisation: no speed is measured here."""
    folder = source / KERNELS
    compiled = [path for path in folder.glob("_compiled.*") if path.suffix != ".pyi"]
    made = next(iter(compiled), folder / "_compiled.abi3.so")
    words = [
        "cc", "-std=c11", "-O1", "-ffp-contract=off", "-shared", "-fPIC", '-DSOURCE_DIGEST="mutant"',
        f"-I{sysconfig.get_path('include')}", *map(str, sorted(folder.glob("*.c"))), "-lm", "-o", str(made),
    ]  # fmt: skip
    subprocess.run(words, check=True)


def is_noticed(mutant: Mutant) -> bool:
    """Whether the tests of its part fail with the mistake."""
    with TemporaryDirectory() as passing:
        source = Path(passing) / "trace"
        shutil.copytree(ROOT / "trace", source, ignore=shutil.ignore_patterns("__pycache__"))
        path = source / "limner" / mutant.path
        text = path.read_text(encoding="utf-8")
        if text.count(mutant.right) < 1:
            raise SystemExit(f'{mutant.path} has no "{mutant.right}" any more: bring this list up to date.')
        path.write_text(text.replace(mutant.right, mutant.wrong, 1), encoding="utf-8")
        if path.suffix == ".c":
            compile_kernels(source)
        tests = [str(ROOT / "tests" / name) for name in TESTS[mutant.part]]
        # The module of a mutant is not that of the sources: the test that says so would notice everything.
        words = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *tests,
                 "--deselect", f"{tests[0]}::test_the_module_is_made_from_these_sources"]  # fmt: skip
        environment = os.environ | {"PYTHONPATH": str(source), "PYTHONDONTWRITEBYTECODE": "1"}
        try:
            done = subprocess.run(
                words, cwd=ROOT, env=environment, capture_output=True, check=False, timeout=LONGEST_S
            )
        except subprocess.TimeoutExpired:
            return True
        if done.returncode not in (0, 1):
            raise SystemExit(done.stdout.decode() + done.stderr.decode())
        return done.returncode == 1


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("parts", nargs="*", choices=[*TESTS, []], help="only these parts")
    asked = parser.parse_args()
    unnoticed = 0
    for mutant in MUTANTS:
        if asked.parts and mutant.part not in asked.parts:
            continue
        noticed = is_noticed(mutant)
        unnoticed += not noticed
        print(
            f"{'noticed' if noticed else 'UNNOTICED':>10}  {mutant.path}: {mutant.right} -> {mutant.wrong}",
            flush=True,
        )
    sys.exit(1 if unnoticed else 0)


if __name__ == "__main__":
    main()

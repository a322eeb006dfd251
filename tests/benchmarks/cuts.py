"""What 144 cut lines keep of what is asked of them: `python tests/benchmarks/cuts.py`, half a minute.

Distance, bends and kinks are measured by sampling the finished curves; every cut has a line, the worst and
the mean of all stand at the end. `--every 5` measures each fifth.
"""

import argparse
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from helpers_cut_figures import Measured, measured, the_cuts


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=int, default=1, help="measure each so-manieth cut")
    found: list[Measured] = []
    begun = time.process_time()
    for name, shape, wanted in list(the_cuts())[:: parser.parse_args().every]:
        cut = measured(shape(), wanted)
        found.append(cut)
        print(
            f"{name:34} {cut.spare_mm:7.4f} mm more, "
            f"radii {min(cut.inner, 99):6.3f} {min(cut.outer, 99):6.3f}, "
            f"kink {cut.kink_deg:.4f} deg, {cut.nodes:3d} nodes{'' if cut.is_around else ', NOT AROUND'}"
        )
    spares = [cut.spare_mm for cut in found]
    print(
        f"{len(found)} cuts in {time.process_time() - begun:.1f} s: {min(spares):.4f} mm more at least, "
        f"{sum(spares) / len(spares):.4f} in the mean, {max(spares):.4f} at most; "
        f"radii {min(cut.inner for cut in found):.3f} inside, {min(cut.outer for cut in found):.3f} outside; "
        f"kinks up to {max(cut.kink_deg for cut in found):.4f} deg; {sum(cut.nodes for cut in found)} nodes"
    )


if __name__ == "__main__":
    main()

"""A trace in a program that has traced before, beside the shortest chain of library calls in the same one."""

import importlib.util
import time
from pathlib import Path

from limner.output.files import write_whole
from limner.pipeline.sketch.files import trace_files
from limner.pipeline.sketch.settings import TraceSettings
from limner.pipeline.sketch.trace import trace

HERE = Path(__file__).parent
SKETCH = HERE.parents[1] / "fixtures" / "crab.jpg"

# Of computing time, as nothing is left to load: 29 to 35 were measured on a machine that others used, too, of
# which nearly all goes into what the chain leaves out. A guard against what makes it half as slow again.
MOST_CHAINS = 45.0


def chain(source: str, target: str) -> None:
    """The chain is a program of its own, that `compare.py` runs."""
    spec = importlib.util.spec_from_file_location("chain", HERE / "chain.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    module.main(source, target)


def test_a_warm_trace_keeps_its_distance_from_the_shortest_chain(tmp_path: Path) -> None:
    def limner() -> None:
        result = trace(SKETCH, TraceSettings(paper="A5"))
        write_whole({tmp_path / "ours.svg": trace_files(result, "crab.jpg", ("svg",))["svg"]})

    def others() -> None:
        chain(str(SKETCH), str(tmp_path / "theirs.svg"))

    least = {limner: float("inf"), others: float("inf")}
    for lap in range(3):
        for work in (limner, others):
            # Computing time of all threads: other users of the machine make it longer, too, but both alike.
            begun = time.process_time()
            work()
            if lap > 0:
                least[work] = min(least[work], time.process_time() - begun)
    assert (tmp_path / "theirs.svg").stat().st_size > 10_000
    assert least[limner] <= MOST_CHAINS * least[others]

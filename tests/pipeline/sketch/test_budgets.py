"""A budget that is too small, through both doors: one sentence with the fewest nodes, which then suffice."""

import re
from pathlib import Path

import pytest

from helpers_job import RING_JOB
from helpers_sketches import write_ring
from limner.cli.main import main
from limner.errors import GeometryError
from limner.job import load_job
from limner.pipeline import build_sheet

SENTENCE = re.compile(r"1 nodes are too few for the drawing: it needs at least (\d+), so ask for that many")


def fewest_by_trace(sketch: Path, lines: str, nodes: int, capsys: pytest.CaptureFixture[str]) -> int:
    """What the command asks for; 0 where the budget suffices."""
    arguments = ["trace", str(sketch), "--lines", lines, "--nodes", str(nodes), "--smoothing", "0.1"]
    code = main([*arguments, "-o", str(sketch.with_suffix(".svg"))])
    said = capsys.readouterr().err
    assert code in (0, 2)
    return 0 if code == 0 else int(SENTENCE.search(said.replace(f"{nodes} nodes", "1 nodes"))[1])  # type: ignore[index]


@pytest.mark.parametrize("lines", ["drawn", "even", "none"])
def test_the_fewest_nodes_are_the_same_through_both_doors(tmp_path, capsys, lines) -> None:
    sketch = write_ring(tmp_path / "ring.png")
    fewest = fewest_by_trace(sketch, lines, 1, capsys)
    assert fewest > 1
    assert fewest_by_trace(sketch, lines, fewest - 1, capsys) == fewest
    assert fewest_by_trace(sketch, lines, fewest, capsys) == 0
    job = tmp_path / "job.toml"
    table = f'lines = "{lines}"\nsmoothing = "0.03 mm"\nnodes = '
    job.write_text(RING_JOB + f"{table}1\n")
    with pytest.raises(GeometryError) as caught:
        build_sheet(load_job(job), workers=1)
    assert str(caught.value).startswith('job.toml, line 5: sticker "ring": 1 nodes')
    assert int(SENTENCE.search(str(caught.value))[1]) == fewest  # type: ignore[index]
    job.write_text(RING_JOB + f"{table}{fewest}\n")
    (sticker,) = build_sheet(load_job(job), workers=1).sheet.stickers
    assert sticker.node_count <= fewest

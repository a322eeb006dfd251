"""The demo from end to end: what `limner new` writes is a sheet that could go to press."""

import pytest

from limner.demo import write_demo
from limner.job.load import load_job
from limner.pipeline.sheet.build import SheetResult, build_sheet
from limner.sheet.cut.cut_line import node_limit


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> SheetResult:
    job = load_job(write_demo(tmp_path_factory.mktemp("demo") / "tide-pool"))
    return build_sheet(job, keep=False)


@pytest.mark.slow
def test_nothing_is_to_be_mended(result: SheetResult) -> None:
    assert [f.message for f in result.findings if f.severity in ("error", "warning")] == []


@pytest.mark.slow
def test_every_colour_of_the_job_reaches_its_area(result: SheetResult) -> None:
    # A point that lies in no area stops the run; each colour named for an area must then be in use.
    used = {item.colour.name for sticker in result.sheet.stickers for item in sticker.fills}
    assert used >= {"coral", "sand", "rose", "sun", "kelp", "plum", "skin", "hair"}


@pytest.mark.slow
def test_cut_lines_keep_distance_and_have_few_nodes(result: SheetResult) -> None:
    for sticker in result.sheet.stickers:
        cut = sticker.cut
        # The contract: never nearer than asked, less 0.05 mm; 1.5 nodes per centimetre and 8 for an outline.
        assert cut.min_distance_mm >= cut.asked_mm - 0.05
        assert cut.path.node_count <= node_limit(cut.length_mm)


@pytest.mark.slow
def test_the_diver_is_whole(result: SheetResult) -> None:
    diver = next(sticker for sticker in result.sheet.stickers if sticker.name == "diver")
    names = {item.shape.name for item in diver.shapes}
    assert any(name.endswith("-left") for name in names)
    assert any(name.endswith("-right") for name in names)

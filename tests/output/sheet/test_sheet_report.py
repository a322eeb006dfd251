"""The report of a sheet keeps its contract and is plain JSON."""

import json
import math
from dataclasses import replace

import pytest

from helpers_sheet import spoilt, tide_pool, with_sticker
from limner.model.finding import Finding
from limner.output.sheet.report import cut_length_mm, sheet_report


def test_keys_of_the_contract():
    finding = Finding("error", "cut-too-near", (13.0, 23.5), "Too near; move it.")
    report = sheet_report(tide_pool(), (finding,))
    assert {"page", "stickers", "findings"} <= set(report)
    first = report["stickers"][0]
    assert {"name", "x_mm", "y_mm", "width_mm", "height_mm", "cut"} <= set(first)
    assert {"form", "length_mm", "nodes", "min_distance_mm", "max_distance_mm"} <= set(first["cut"])
    # Counted from the trim's corner, as the job file does: 3 mm of bleed off both.
    assert report["findings"] == [
        {
            "severity": "error",
            "code": "cut-too-near",
            "where_mm": [10.0, 20.5],
            "message": "Too near; move it.",
        }
    ]


def test_values_are_those_of_the_sheet():
    sheet = tide_pool()
    report = sheet_report(sheet, ())
    assert report["page"] == {
        "size": "A6", "trim_width_mm": 105.0, "trim_height_mm": 148.0, "bleed_mm": 3.0, "safe_mm": 4.0,
        "width_mm": 111.0, "height_mm": 154.0,
    }  # fmt: skip
    for placed, said in zip(sheet.stickers, report["stickers"], strict=True):
        assert said["x_mm"] == pytest.approx(placed.x_mm - 3, abs=6e-4)
        assert said["y_mm"] == pytest.approx(placed.y_mm - 3, abs=6e-4)
        assert said["cut"]["nodes"] == placed.cut.path.node_count
        assert said["cut"]["min_distance_mm"] == pytest.approx(placed.cut.min_distance_mm, abs=6e-4)
    assert report["cut"]["separation"] == "Cutting"
    assert report["cut"]["length_mm"] == pytest.approx(cut_length_mm(sheet), abs=6e-4)
    assert [colour["name"] for colour in report["colours"]] == [colour.name for colour in sheet.colours]
    assert report["lettering"][0]["size_pt"] == pytest.approx(26)
    assert report["profile"] is None


def test_it_survives_json_unchanged():
    report = sheet_report(spoilt(), (Finding("note", "x", None, "A “note”; well."),))
    assert json.loads(json.dumps(report, allow_nan=False)) == report


def test_what_is_no_number_is_null():
    sheet = tide_pool()
    cut = replace(sheet.stickers[0].cut, min_distance_mm=math.nan, max_distance_mm=math.inf)
    finding = Finding("note", "x", (math.nan, 1.0), "Nowhere; look.")
    report = sheet_report(with_sticker(sheet, 0, cut=cut), (finding,))
    assert report["stickers"][0]["cut"]["min_distance_mm"] is None
    assert report["stickers"][0]["cut"]["max_distance_mm"] is None
    assert report["findings"][0]["where_mm"] is None
    json.dumps(report, allow_nan=False)

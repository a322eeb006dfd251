"""The JSON report of a trace, as the contract names its keys."""

import json

from helpers_drawing import tide_pool_drawing
from limner.model.geometry import Axis
from limner.output.sketch.report import trace_report


def test_keys_are_those_of_the_contract() -> None:
    report = trace_report(tide_pool_drawing(), "crab.jpg", 0.1, {"capture": 0.5})
    assert list(report) == [
        "sketch", "width_mm", "height_mm", "mm_per_px", "line_width_mm", "areas", "lines", "nodes",
        "error_mm", "axis", "seconds",
    ]  # fmt: skip
    assert report["areas"] == [
        {"name": "shell", "area_mm2": 289.0, "nodes": 4, "error_mm": 0.02, "bridged_gaps": 1}
    ]
    assert report["lines"] == {"shapes": 1, "nodes": 8, "error_mm": 0.03}
    assert report["nodes"] == 4 + 4 + 8
    assert report["error_mm"] == 0.03
    assert report["axis"] is None
    assert json.loads(json.dumps(report)) == report


def test_axis_is_reported() -> None:
    axis = Axis(10.0, 5.0, 88.5, 0.97, "half", keep="left")
    report = trace_report(tide_pool_drawing(axis=axis), "face.jpg", 0.1, {})
    assert report["axis"] == {"x_mm": 10.0, "y_mm": 5.0, "angle_deg": 88.5, "score": 0.97, "how": "half"}

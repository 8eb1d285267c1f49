"""What a chart holds, and whether it can be printed without a browser."""

import vl_convert


def rows(chart):
    """Every row of a chart's data."""
    return [row for table in chart.to_dict()["datasets"].values() for row in table]


def prints(chart):
    """The chart as a drawing: in the page's own ink, with what it finds for those who do not see it, no gap in it."""
    spec = chart.to_dict()
    assert len(spec["description"]) > 20
    drawing = vl_convert.vegalite_to_svg({**spec, "width": 600})
    assert drawing.startswith("<svg")
    assert "currentColor" in drawing
    assert "undefined" not in drawing
    assert "NaN" not in drawing
    return drawing

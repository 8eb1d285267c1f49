"""What a chart holds, and whether it can be printed without a browser."""

import altair
import vl_convert


def rows(chart):
    """Every row of a chart's data; a table that several layers draw counts once."""
    tables = {str(layer["data"]["values"]): layer["data"]["values"] for layer in chart.to_dict()["layer"]}
    return [row for table in tables.values() for row in table]


def prints(chart):
    """The chart as a drawing: in the page's own ink, with what it finds for those who do not see it, no gap in it."""
    spec = chart.to_dict()
    altair.LayerChart.from_dict(spec)  # the schema of Vega-Lite, as altair carries it
    assert len(spec["description"]) > 20
    drawing = vl_convert.vegalite_to_svg({**spec, "width": 600})
    assert drawing.startswith("<svg")
    assert "currentColor" in drawing
    assert "undefined" not in drawing
    assert "NaN" not in drawing
    return drawing

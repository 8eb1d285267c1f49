"""Charts of a loan: coverage by year over its bands, and payments beside the harvest.

As in `compare/charts` the finding stands in `description`, and series are told apart by colour and shape at once.
"""

import numpy as np

from renovation.decide.lending import LoanAppraisal
from renovation.money.loan_cover import CAUTION_COVER_FROM, GOOD_COVER_ABOVE
from renovation.show import drawing as draw
from renovation.show.cash.charts import BY_WHOM
from renovation.show.cash.sentences import beside_harvest, tightest_year
from renovation.show.vega import Chart, Layer, Part, Rows, columns, encoding
from renovation.types import FloatArray
from renovation.words import Words

TICKS = (-50, -20, -10, -5, -2, -1, 0, 1, 2, 5, 10, 20, 50, 100)
"""Coverages that the axis may name."""
BAND_COLOURS = {"high_risk": "#C0392B", "caution": "#E0A030", "good": "#009E73"}
CROP = draw.COLOURS[2]


def cover_chart(judged: LoanAppraisal, words: Words, *, height: int = 340) -> Chart:
    """Coverage of each year with payments, after living costs and by farm cash alone, over the bands."""
    verdict = judged.as_stated
    kinds = {"cover_after_living": verdict.cover_after_living, "cover_farm_only": verdict.cover_farm_only}
    names = {kind: words(f"lending.column.{kind}") for kind in kinds}
    table = [row for kind, values in kinds.items() for row in _points(judged, values, names[kind], words)]
    heights, years = [row["height"] for row in table], [row["year"] for row in table]
    span = [min(0.0, *heights) - 0.1, max(_height(3.0), *heights) + 0.15]
    edges = np.array([min(years) - 0.75, max(years) + 0.75])
    x = draw.calendar_axis(edges)
    domain = list(names.values())
    legend = draw.legend_above(1, domain)
    base = Layer(table).encode(
        x=x,
        color=encoding("kind:N", scale=Part(domain=domain, range=list(draw.COLOURS[:2])), legend=legend),
        shape=encoding("kind:N", scale=Part(domain=domain, range=list(draw.SHAPES[:2])), legend=legend),
        tooltip=[
            encoding("from:N", title=words("lending.column.from_month")),
            encoding("kind:N", title=words("chart.tip.part")),
            encoding("told:N", title=words("chart.cover.times")),
        ],
    )
    points = base.mark("point", filled=True, size=130, opacity=1).encode(y=_cover_axis(span, height))
    layers = [*_bands(span, x, edges), _target(judged, span), draw.zero_line(span), points]
    layers.append(draw.names_at_ends(_band_names(judged, span, words), x, span, height, float(edges[0])))
    return draw.finish(words, layers, words("chart.cover.axis"), cover_finding(judged, words), height, own_axes=True)


def cover_finding(judged: LoanAppraisal, words: Words) -> str:
    """The finding of the coverage chart: its tightest year."""
    return tightest_year(judged, words)


def _height(cover: float) -> float:
    """Where a coverage is drawn: near 0 as it is, far off closer together, so that 1.1 and 20 fit one chart."""
    return float(np.sign(cover) * np.log1p(abs(cover)))


def _cover_axis(span: list[float], height: int) -> Part:
    """The left axis, which names coverages at their heights, those near 0 first and as many as there is room for."""
    room, places = draw.row_of_text(span, height), dict[float, int]()
    for tick in sorted(TICKS, key=abs):
        at = _height(tick)
        if span[0] <= at <= span[1] and all(abs(at - place) >= room for place in places):
            places[at] = tick
    names = [f"abs(datum.value - ({place!r})) < 1e-6 ? '{tick}'" for place, tick in places.items()]
    axis = Part(values=list(places), labelExpr=" : ".join([*names, "''"]), labelOverlap=False, grid=False)
    return encoding("height:Q", title=None, scale=Part(domain=span, nice=False), axis=axis)


def _points(judged: LoanAppraisal, cover: FloatArray, name: str, words: Words) -> Rows:
    """One row per year with payments: its middle, its coverage, and the height that it is drawn at."""
    label = judged.as_stated.label
    years = np.flatnonzero(~np.isnan(cover))
    values = cover[years]
    when = draw.calendar_time(judged.as_stated.start, np.asarray(12.0 * years + 6, dtype=np.float64))
    return [
        {
            "year": middle,
            "from": words.month(label(12 * year)),
            "height": _height(value),
            "told": words.number(value, 2),
            "kind": name,
        }
        for middle, year, value in zip(when.tolist(), years.tolist(), values.tolist(), strict=True)
    ]


def _bands(span: list[float], x: Part, sides: FloatArray) -> list[Layer]:
    """Three shades behind the points: high risk, caution, good."""
    edges = {
        "high_risk": (span[0], _height(CAUTION_COVER_FROM)),
        "caution": (_height(CAUTION_COVER_FROM), _height(GOOD_COVER_ABOVE)),
        "good": (_height(GOOD_COVER_ABOVE), span[1]),
    }
    left, right = sides.tolist()
    return [
        Layer(columns(year=left, until=right, low=low, high=high))
        .mark("rect", color=BAND_COLOURS[band], opacity=0.2)
        .encode(x=x, x2="until:Q", y=draw.no_axis("low:Q", span), y2="high:Q")
        for band, (low, high) in edges.items()
    ]


def _target(judged: LoanAppraisal, span: list[float]) -> Layer:
    """A dashed rule at the coverage that the lender asks for."""
    table = columns(height=_height(judged.as_stated.means.cover_target))
    rule: Layer = Layer(table).mark("rule", color=draw.GREY, strokeDash=[4, 3], strokeWidth=2)
    return rule.encode(y=draw.no_axis("height:Q", span))


def _band_names(judged: LoanAppraisal, span: list[float], words: Words) -> dict[str, float]:
    """Each band by name at its middle, and the coverage asked for."""
    target = judged.as_stated.means.cover_target
    middles = {
        "high_risk": (max(span[0], 0.0) + _height(CAUTION_COVER_FROM)) / 2,
        "caution": (_height(CAUTION_COVER_FROM) + _height(GOOD_COVER_ABOVE)) / 2,
        "good": (_height(GOOD_COVER_ABOVE) + span[1]) / 2,
    }
    names = {words(f"lending.band.{band}"): middle for band, middle in middles.items()}
    return names | {words("chart.cover.asked_for", times=words.number(target, 2)): min(_height(target), span[1])}


def calendar_chart(judged: LoanAppraisal, words: Words, *, height: int = 360) -> Chart:
    """The twelve months: share of the crop beside share of the money paid to the lender, missed payments marked."""
    names = {kind: words(f"chart.calendar.{kind}") for kind in ("crop", "paid", "missed")}
    table = _shares(judged, names, words)
    shown = [names[kind] for kind in names if kind != "missed" or any(row["what"] == names["missed"] for row in table)]
    top = max(row["until"] for row in table) * 1.15
    months = [words.month_name(month, "abbreviated") for month in range(1, 13)]
    x = encoding(
        "month:N",
        scale=Part(domain=months),
        title=None,
        axis=Part(labelAngle=-90, grid=False, labelOverlap=False),
    )
    colours = {names["crop"]: CROP, names["paid"]: draw.COLOURS[0], names["missed"]: BY_WHOM["short"]}
    bars = (
        Layer(table)
        .mark("bar")
        .encode(
            x=x,
            xOffset=encoding("side:N", sort=["crop", "paid"]),
            y=draw.left_axis("from:Q", [0.0, top], Part(tickCount=5, format=".0%")),
            y2="until:Q",
            color=encoding(
                "what:N",
                scale=Part(domain=shown, range=[colours[name] for name in shown]),
                legend=draw.legend_above(1, shown, symbolType="square"),
            ),
            tooltip=[
                encoding("month:N", title=words("lending.column.month")),
                encoding("what:N", title=words("chart.tip.part")),
                encoding("share:Q", title=words("chart.calendar.share"), format=".1%"),
            ],
        )
    )
    return draw.finish(words, [bars], words("chart.calendar.axis"), beside_harvest(judged, words), height)


def _shares(judged: LoanAppraisal, names: dict[str, str], words: Words) -> Rows:
    """Bars of each month: its crop; its payments, the missed ones on top of those that can be made."""
    total = sum(due.amount_nominal for due in judged.dues) or 1.0
    rows = []
    for row in judged.calendar:
        month = words.month_name(row.calendar_month, "abbreviated")
        here = [due for due in judged.dues if int(due.label[5:]) == row.calendar_month]
        missed = sum(due.amount_nominal for due in here if due.missed) / total
        made = row.paid_nominal / total - missed
        rows += [
            (month, "crop", names["crop"], 0.0, row.harvest_share),
            (month, "paid", names["paid"], 0.0, made),
            (month, "paid", names["missed"], made, made + missed),
        ]
    return [
        {"month": month, "side": side, "what": what, "from": low, "until": high, "share": high - low}
        for month, side, what, low, high in rows
        if high > low
    ]


__all__ = ["calendar_chart", "cover_chart", "cover_finding"]

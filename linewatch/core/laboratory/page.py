"""What a laboratory found of one substance, as a page: values, limits, control chart."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.laboratory.charts import chart_of, in_one_unit, signals
from linewatch.core.pages import Page, Table, span_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.laboratory.analyses import Analysis
    from linewatch.core.pages import Shown


def chart_page(found: Sequence[Analysis], title: str, show: Shown) -> Page:
    """Return the control chart of one substance in one bath as a page."""
    values, unit, is_one = in_one_unit(found)
    chart = chart_of(values)
    charted = [
        f"= {value:.4g} {unit}" if each.unit != unit and value != each.value else ""
        for each, value in zip(found, values, strict=True)
    ]
    spoken = {each.index: each.rule for each in signals(values, chart)} if chart else {}
    below = ["1 analysis" if len(found) == 1 else f"{len(found)} analyses"]
    if chart is not None:
        below.append(
            f"mean {chart.mean:.4g} {unit}, control limits {chart.low:.4g} to {chart.high:.4g},"
            f" largest moving range {chart.largest_range:.3g}; from the first {chart.values}"
        )
    else:
        below.append("too few values, or too much alike, for control limits")
    if not is_one:
        below.append("UNITS DIFFER: the chart mixes them; correct the entries")
    return Page(
        title=title,
        below=tuple(below),
        tables=(
            Table(
                heading="Found",
                columns=("no", "sampled", "value", "", "limits", "chart", "by", "note"),
                rows=tuple(
                    (
                        str(each.number),
                        show.clock(each.sampled_utc_ns),
                        f"{each.value:g} {each.unit}",
                        each.verdict,
                        span_words(each.low, each.high),
                        spoken.get(index, ""),
                        each.who,
                        " ".join(part for part in (same, each.method, each.note) if part),
                    )
                    for index, (each, same) in enumerate(zip(found, charted, strict=True))
                ),
                numbers=frozenset({0, 2}),
                empty="nothing was analysed",
                widths=(0.6, 2, 1.4, 0.7, 1.4, 2.6, 0.7, 2),
            ),
        ),
        small=(
            (
                "Individuals and moving ranges; Western Electric rules (NIST/SEMATECH"
                " e-Handbook 6.3.2). A chart tells that something changed, not what."
            ),
        ),
    )

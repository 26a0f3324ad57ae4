"""Compiles rows of the metrics table to SQL over the slowest frames of a run.

Every metric made from frames is a mean or percentile of frame time, written as a ratio of two whole
numbers (numerator in nanoseconds); only the last step, to the metric's unit, divides.

With `n` frames that take `total_ns`, and a tail of a share p (exactly num / den):

- no tail: total_ns / n. For a rate this is frames divided by total time.
- percentile, each frame counting once: the (1 - p) quantile of frame time, type 7 of Hyndman and
  Fan (1996), "Sample quantiles in statistical packages", The American Statistician 50(4): 361-365.
- percentile, each frame counting for its time: the frame time at which the slowest frames, taken
  one after the other from the slowest, first make up p of the total time.
- mean of the slowest p of frames: n * p frames, the last one with a fractional weight.
- mean of the slowest p of time: as many of the slowest frames as make up p of the total time, the
  last one fractional.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from rigledger.captures.problems import CaptureError
from rigledger.captures.source import NANOSECOND_DIGITS
from rigledger.contract.sql_text import identifier, literal

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from rigledger.contract.model import Metric

Ratio = tuple[str, str]


def parts_and_metrics(metrics: Sequence[Metric]) -> tuple[str, str]:
    """Compile metrics to the two lists that sql/frame_metrics.sql leaves open.

    Args:
        metrics: Metrics that can be made from frames.

    Returns:
        The columns of ``ratios`` (a numerator and a denominator a metric), and the query that turns
        each pair to the metric's unit, one row a run and metric.

    Raises:
        CaptureError: A metric can't be made from frames, or its unit is neither a rate nor a time.
    """
    parts, rows = [], []
    for metric in metrics:
        above, below = _ratio(metric)
        over, under = identifier(f"{metric.metric}__over"), identifier(f"{metric.metric}__under")
        parts.append(f"{above} as {over},\n            {below} as {under}")
        value = _in_unit(metric, f"{over}::double", f"{under}::double")
        name = literal(metric.metric)
        rows.append(
            f"select run, {name} as metric, {value} as value, n::bigint as frames, "
            "total_ns::bigint as covered_ns from ratios"
        )
    return ",\n            ".join(parts), "\nunion all\n".join(rows)


def tail_share(metric: Metric) -> Fraction:
    """Give the tail of a metric as an exact share of one; a whole run is a tail of nothing."""
    return Fraction(str(metric.tail_pct or 0)) / 100


def _ratio(metric: Metric) -> Ratio:
    compilers: dict[tuple[str, str], Callable[[int, int], Ratio]] = {
        ("frame", "percentile"): _frame_percentile,
        ("time", "percentile"): _time_percentile,
        ("frame", "mean_of_slowest"): _frame_mean,
        ("time", "mean_of_slowest"): _time_mean,
    }
    if metric.tail_rule == "none" and metric.from_frames:
        return "total_ns", "n"
    compiler = compilers.get((metric.weighting, metric.tail_rule))
    share = tail_share(metric)
    if compiler is None or not 0 < share < 1:
        raise CaptureError(
            "the metric can't be made from frames",
            file="metrics.toml",
            column=metric.metric,
            value=f"{metric.weighting}, {metric.tail_rule}, {metric.tail_pct}",
            next_step="give weighting frame or time, a tail rule, and a tail above 0 and below 100",
        )
    return compiler(share.numerator, share.denominator)


def _in_unit(metric: Metric, above: str, below: str) -> str:
    if metric.unit == "fps":
        return f"1e9 * {below} / {above}"
    if metric.unit in NANOSECOND_DIGITS:
        return f"{above} / ({below} * 1e{NANOSECOND_DIGITS[metric.unit]})"
    raise CaptureError(
        "frames give rates and times only",
        file="metrics.toml",
        column=metric.metric,
        value=metric.unit,
        next_step="state fps or a unit of time, or weighting none for what is only reported",
    )


def _frame_percentile(num: int, den: int) -> Ratio:
    span = f"((n - 1) * {den - num})"
    below = f"max(frame_ns) filter (where place = n - {span} // {den})"
    above = f"max(frame_ns) filter (where place = n - 1 - {span} // {den})"
    part = f"({span} % {den})"
    return f"{below} * ({den} - {part}) + coalesce({above}, 0) * {part}", f"{den}"


def _time_percentile(num: int, den: int) -> Ratio:
    return f"max(frame_ns) filter (where slowest_ns * {den} >= total_ns * {num})", "1"


def _frame_mean(num: int, den: int) -> Ratio:
    share = f"(n * {num})"
    whole = f"coalesce(sum(frame_ns) filter (where place <= {share} // {den}), 0)"
    last = f"max(frame_ns) filter (where place = {share} // {den} + 1)"
    return f"{whole} * {den} + {last} * ({share} % {den})", share


def _time_mean(num: int, den: int) -> Ratio:
    share = f"(total_ns * {num})"
    inside = f"slowest_ns * {den} <= {share}"
    frames = f"count(*) filter (where {inside})"
    whole = f"coalesce(max(slowest_ns) filter (where {inside}), 0)"
    last = f"max(frame_ns) filter (where not {inside})"
    rest = f"({share} - {whole} * {den})"
    return f"{share} * {last}", f"{frames} * {last} * {den} + {rest}"

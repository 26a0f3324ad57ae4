from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigledger.captures import metrics as metrics_module
from rigledger.captures.metrics import frame_metrics
from rigledger.captures.problems import CaptureError
from rigledger.contract import load_contract

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

    from rigledger.contract.model import Metric

Rows = list[tuple[str, str, float, int, int]]
Compute = Callable[..., Rows]
CONTRACT = load_contract()
FRAMES = st.lists(st.integers(1, 10**11), min_size=1, max_size=300)
relaxed = settings(
    settings.get_profile("costly"), suppress_health_check=[HealthCheck.function_scoped_fixture]
)


def metric(weighting: str, tail_rule: str, tail_pct: float | None, unit: str = "fps") -> Metric:
    return replace(
        CONTRACT.metric("average_fps"),
        metric=f"{weighting}_{tail_rule}_{unit}",
        weighting=weighting,
        tail_rule=tail_rule,
        tail_pct=tail_pct,
        unit=unit,
    )


def one_run(rows: Rows) -> dict[str, float]:
    return {name: value for _, name, value, _, _ in rows}


def reference(frames: Sequence[int], share: Fraction) -> dict[str, Fraction]:
    """The definitions of DESIGN's metrics in exact fractions, frame by frame."""
    slowest, total = sorted(frames, reverse=True), sum(frames)
    ascending, count = slowest[::-1], len(frames)
    place = (count - 1) * (1 - share)
    low = int(place)
    high = min(low + 1, count - 1)
    rank = ascending[low] + (ascending[high] - ascending[low]) * (place - low)
    return {
        "average_fps": Fraction(10**9 * count, total),
        "low_1pct_rank_fps": 10**9 / Fraction(rank),
        "low_1pct_share_of_frames_fps": 10**9 / mean_of_slowest(slowest, count * share),
        "low_1pct_share_of_time_fps": 10**9
        * frames_in_time(slowest, total * share)
        / (total * share),
    }


def mean_of_slowest(slowest: Sequence[int], share: Fraction) -> Fraction:
    left, time = share, Fraction(0)
    for frame in slowest:
        part = min(Fraction(1), left)
        time, left = time + part * frame, left - part
    return time / share


def frames_in_time(slowest: Sequence[int], share: Fraction) -> Fraction:
    left, frames = share, Fraction(0)
    for frame in slowest:
        part = min(Fraction(1), left / frame)
        frames, left = frames + part, left - part * frame
    return frames


def test_a_small_capture_worked_by_hand(computed: Compute) -> None:
    # 198 frames of 10 ms and two slow ones, 30 and 50 ms: 2.06 s, 1 % of the frames is 2 frames.
    frames = [10_000_000] * 198 + [50_000_000, 30_000_000]
    # 1 % of the time is 20.6 ms, less than the slowest frame: 0.412 of it, at 20 fps.
    # Rank 0.99 * 199 = 197.01 counted from 0: 10 ms + 0.01 * (30 - 10) ms = 10.2 ms.
    expected = [
        ("r", "average_fps", 200 / 2.06, 200, 2_060_000_000),
        ("r", "low_1pct_rank_fps", 1000 / 10.2, 200, 2_060_000_000),
        ("r", "low_1pct_share_of_frames_fps", 1000 / 40, 200, 2_060_000_000),
        ("r", "low_1pct_share_of_time_fps", 20.0, 200, 2_060_000_000),
    ]
    found = computed(("r", frames, None, None))
    assert [row[:2] + row[3:] for row in expected] == [row[:2] + row[3:] for row in found]
    assert [row[2] for row in found] == pytest.approx([row[2] for row in expected], rel=1e-15)


def test_the_last_frame_of_a_tail_counts_in_part(computed: Compute) -> None:
    # 150 frames: 1 % is one frame and a half. Slowest 40 ms and 20 ms: (40 + 10) / 1.5 ms.
    frames = [10_000_000] * 148 + [20_000_000, 40_000_000]
    found = one_run(computed(("r", frames, None, None)))
    assert found["low_1pct_share_of_frames_fps"] == pytest.approx(1000 / (50 / 1.5), rel=1e-15)


@relaxed
@given(frames=FRAMES)
def test_all_metrics_equal_their_definitions_in_exact_fractions(
    computed: Compute, frames: list[int]
) -> None:
    expected = reference(frames, Fraction(1, 100))
    found = one_run(computed(("r", frames, None, None)))
    assert set(expected) == set(found)
    for name, value in expected.items():
        assert found[name] == pytest.approx(float(value), rel=1e-14), name


@relaxed
@given(frames=FRAMES, seed=st.randoms(use_true_random=False))
def test_the_order_of_frames_does_not_matter(
    computed: Compute, frames: list[int], seed: object
) -> None:
    shuffled = list(frames)
    seed.shuffle(shuffled)  # type: ignore[attr-defined]
    assert computed(("r", frames, None, None)) == computed(("r", shuffled, None, None))


@relaxed
@given(frames=FRAMES, times=st.integers(2, 50))
def test_frames_that_take_longer_by_a_factor_lower_every_rate_by_it(
    computed: Compute, frames: list[int], times: int
) -> None:
    slower = [frame * times for frame in frames]
    fast = one_run(computed(("r", frames, None, None)))
    slow = one_run(computed(("r", slower, None, None)))
    assert slow == pytest.approx({name: value / times for name, value in fast.items()}, rel=1e-13)


@relaxed
@given(frames=FRAMES)
def test_no_low_lies_above_the_average_and_slowest_times_lie_below_slowest_frames(
    computed: Compute, frames: list[int]
) -> None:
    found = one_run(computed(("r", frames, None, None)))
    slightly_more = 1 + 1e-12
    average = found["average_fps"] * slightly_more
    by_frames = found["low_1pct_share_of_frames_fps"] * slightly_more
    assert by_frames <= average * slightly_more
    assert found["low_1pct_share_of_time_fps"] <= by_frames


def test_thousands_of_frames_agree_with_numpy(computed: Compute) -> None:
    # Reference: numpy.quantile, method "linear" (type 7 of Hyndman and Fan 1996).
    random = np.random.default_rng(11)
    runs = {
        f"r{n}": random.lognormal(16, 0.3, n).astype(np.int64) for n in (999, 1000, 1001, 25_000)
    }
    found = computed(*((run, frames.tolist(), None, None) for run, frames in runs.items()))
    ranks = {run: value for run, name, value, _, _ in found if name == "low_1pct_rank_fps"}
    expected = {run: 1e9 / float(np.quantile(frames, 0.99)) for run, frames in runs.items()}
    assert ranks == pytest.approx(expected, rel=1e-14)


def test_equal_frames_give_one_rate_everywhere(computed: Compute) -> None:
    found = one_run(computed(("r", [8_000_000] * 5000, None, None)))
    assert found == dict.fromkeys(found, 125.0)
    assert len(found) == 4


def test_a_window_takes_frames_that_end_after_its_start_and_no_later_than_its_end(
    computed: Compute,
) -> None:
    frames = [100_000_000, 200_000_000, 300_000_000, 400_000_000]  # they end at 0.1, 0.3, 0.6, 1 s
    cases = {
        "up to an end": (None, 0.3, 2, 300_000_000),
        "from an end": (0.3, 0.3, 1, 300_000_000),
        "a nanosecond short": (0.0, 0.299999999, 1, 100_000_000),
        "the frame that straddles the start is whole": (0.2, 0.2, 1, 200_000_000),
        "to the end": (0.3, None, 2, 700_000_000),
        "beyond the end": (0.0, 9.0, 4, 1_000_000_000),
    }
    found = computed(*((run, frames, start, length) for run, (start, length, *_) in cases.items()))
    windows = {run: (count, covered) for run, _, _, count, covered in found}
    assert windows == {run: (count, covered) for run, (*_, count, covered) in cases.items()}


@relaxed
@given(
    frames=st.lists(st.integers(1, 2 * 10**9), min_size=1, max_size=60),
    cuts=st.lists(st.integers(1, 5 * 10**9), min_size=1, max_size=4),
)
def test_windows_that_follow_each_other_lose_no_frame_and_share_none(
    computed: Compute, frames: list[int], cuts: list[int]
) -> None:
    edges = [0, *sorted(set(cuts))]
    lengths = [later - earlier for earlier, later in itertools.pairwise(edges)]
    windows = [
        (f"w{start}", frames, start / 1e9, length / 1e9)
        for start, length in zip(edges, lengths, strict=False)
    ]
    rows = computed(*windows, ("rest", frames, edges[-1] / 1e9, None))
    counts = {run: count for run, _, _, count, _ in rows}
    assert sum(counts.values()) == len(frames)


def test_a_window_without_a_frame_has_no_row(computed: Compute) -> None:
    assert computed(("r", [10_000_000], 5.0, 1.0)) == []


def test_no_runs_give_no_rows(computed: Compute) -> None:
    assert computed() == []


@pytest.mark.parametrize("frames_a_batch", [1, 700, 10**6])
def test_the_size_of_a_batch_changes_nothing(computed: Compute, frames_a_batch: int) -> None:
    runs = [(f"r{n}", list(range(n, n + 500)), None, 2e-7) for n in range(1, 9)]
    everything = computed(*runs)
    assert everything == computed(*runs, frames_a_batch=frames_a_batch)
    assert len(everything) == 8 * 4


def test_the_number_of_threads_changes_no_bit(
    con: duckdb.DuckDBPyConnection, computed: Compute
) -> None:
    random = np.random.default_rng(5)
    runs = [
        (f"r{n}", random.lognormal(16, 0.5, 3000).astype(np.int64).tolist(), None, None)
        for n in range(10)
    ]
    before = con.execute("select current_setting('threads')").fetchone()
    con.execute("set threads = 1")
    one = computed(*runs)
    con.execute("set threads = 4")
    assert one == computed(*runs)
    con.execute("set threads = ?", before)


def test_a_new_metric_needs_a_row_and_no_code(computed: Compute) -> None:
    frames = np.random.default_rng(3).lognormal(16, 0.3, 5000).astype(np.int64).tolist()
    chosen = [
        metric("frame", "percentile", 0.1),
        metric("frame", "percentile", 5, "ms"),
        metric("frame", "mean_of_slowest", 0.1),
        metric("time", "mean_of_slowest", 0.1),
        metric("time", "percentile", 1, "us"),
        metric("frame", "none", None, "s"),
    ]
    slowest, total = sorted(frames, reverse=True), sum(frames)
    reached = next(n for n in range(5000) if 100 * sum(slowest[: n + 1]) >= total)
    expected = {
        "frame_percentile_fps": 1e9 / np.quantile(frames, 0.999),
        "frame_percentile_ms": np.quantile(frames, 0.95) / 1e6,
        "frame_mean_of_slowest_fps": 1e9 / np.mean(slowest[:5]),
        "time_mean_of_slowest_fps": float(
            reference(frames, Fraction(1, 1000))["low_1pct_share_of_time_fps"]
        ),
        "time_percentile_us": slowest[reached] / 1e3,
        "frame_none_s": total / 5000 / 1e9,
    }
    found = one_run(computed(("r", frames, None, None), chosen=chosen))
    assert found == pytest.approx(expected, rel=1e-13)


def test_the_widest_tail_keeps_all_ranks_of_the_narrow_ones(computed: Compute) -> None:
    frames = np.random.default_rng(4).lognormal(16, 0.3, 4000).astype(np.int64).tolist()
    alone = one_run(
        computed(("r", frames, None, None), chosen=[metric("frame", "percentile", 0.1)])
    )
    both = [metric("frame", "percentile", 0.1), metric("time", "mean_of_slowest", 60)]
    assert alone.items() <= one_run(computed(("r", frames, None, None), chosen=both)).items()


def test_metrics_that_are_only_reported_are_left_out(computed: Compute) -> None:
    reported = CONTRACT.metric("low_1pct_unstated_fps")
    assert computed(("r", [1, 2], None, None), chosen=[reported]) == []


@pytest.mark.parametrize(
    ("wrong", "column"),
    [
        (metric("frame", "mean_of_slowest", None), "frame_mean_of_slowest_fps"),
        (metric("frame", "percentile", 100), "frame_percentile_fps"),
        (metric("frame", "none", None, "W"), "frame_none_W"),
    ],
)
def test_a_metric_that_frames_can_not_give_is_refused(
    computed: Compute, wrong: Metric, column: str
) -> None:
    with pytest.raises(CaptureError) as caught:
        computed(("r", [1, 2], None, None), chosen=[wrong])
    assert caught.value.column == column


def test_a_capture_that_is_gone_is_an_error_that_names_it(
    con: object, computed: Compute, tmp_path: object
) -> None:
    computed(("r", [1, 2], None, None))
    path = f"{tmp_path}/gone.parquet"
    con.execute("update windows set capture_file = ?", [path])  # type: ignore[attr-defined]
    from rigledger.captures.metrics import frame_metrics

    with pytest.raises(CaptureError, match=r"gone\.parquet"):
        frame_metrics(con, "windows", list(CONTRACT.metrics.values()))  # type: ignore[arg-type]


def test_a_capture_whole_and_in_windows_and_twice_gives_each_run_its_own(computed: Compute) -> None:
    frames = np.random.default_rng(8).lognormal(16, 0.3, 2500).astype(np.int64).tolist()
    rows = computed(
        ("whole", frames, None, None),
        ("again", frames, 0.0, None),
        ("first", frames, None, 5.0),
        ("rest", frames, 5.0, None),
    )
    by_run: dict[str, list[tuple]] = {}
    for run, *said in rows:
        by_run.setdefault(run, []).append(tuple(said))
    assert by_run["whole"] == by_run["again"]
    counts = {run: held[0][2] for run, held in by_run.items()}
    assert counts["first"] + counts["rest"] == counts["whole"] == 2500
    assert [len(held) for held in by_run.values()] == [4, 4, 4, 4]


def test_a_tail_too_long_to_be_kept_by_the_engine_is_sorted(
    computed: Compute, monkeypatch: pytest.MonkeyPatch
) -> None:
    frames = np.random.default_rng(9).lognormal(16, 0.3, 3000).astype(np.int64).tolist()
    kept = computed(("r", frames, None, None))
    monkeypatch.setattr(metrics_module, "_LARGEST_TAIL", 2)
    assert kept == computed(("r", frames, None, None))


def test_captures_that_pack_to_less_than_two_bytes_a_frame_are_counted_and_give_the_same(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, metrics: tuple[Metric, ...]
) -> None:
    even, mixed = tmp_path / "even.parquet", tmp_path / "mixed.parquet"
    con.execute(f"copy (select 8000000 + i // 50000 as frame_ns from range(100000) r (i)) "
                f"to '{even.as_posix()}' (compression zstd)")  # fmt: skip
    con.execute(f"copy (select 8000000 + hash(i) % 999 as frame_ns from range(5000) r (i)) "
                f"to '{mixed.as_posix()}'")  # fmt: skip
    assert even.stat().st_size < 65_536
    con.execute("create table w (run varchar, capture_file varchar, from_s double, for_s double)")
    for path in (even, mixed):
        con.execute("insert into w values (?, ?, null, null)", [path.stem, path.as_posix()])
    frame_metrics(con, "w", metrics)
    found = con.execute("from frame_metrics").fetchall()
    # A window of everything is planned by counted frames.
    con.execute("update w set for_s = 86400")
    frame_metrics(con, "w", metrics)
    assert found == con.execute("from frame_metrics").fetchall()
    assert len(found) == 2 * 4

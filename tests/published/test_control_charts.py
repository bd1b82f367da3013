"""Control charts against the NIST/SEMATECH e-Handbook, clause 6.3.2 (seen in several transcriptions)."""

import pytest

from fieldlog.analysis.charts import cusum, ewma, individuals

FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
PROCESS = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, *FLOW]
FILLING = [
    324.925, 324.675, 324.725, 324.35, 325.35, 325.225, 324.125, 324.525, 325.225, 324.6,
    324.625, 325.15, 328.325, 327.25, 327.825, 328.5, 326.675, 327.775, 326.875, 328.35,
]  # fmt: skip


def test_the_individuals_chart_of_6_3_2_2():
    chart = individuals(FLOW)
    assert chart.centre == pytest.approx(50.81, abs=1e-9)
    assert chart.mean_moving_range == pytest.approx(1.8778, abs=5e-5)
    assert chart.upper == pytest.approx(55.8041, abs=1e-4)
    assert chart.lower == pytest.approx(45.8159, abs=1e-4)
    assert chart.range_upper == pytest.approx(6.1347, abs=5e-4)
    assert chart.signals == ()


def test_the_moving_average_of_6_3_2_4():
    printed = [
        50.6, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
        50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
    ]  # fmt: skip
    chart = ewma(PROCESS, target=50.0, sigma=2.0539, weight=0.3)
    assert chart.ewma == pytest.approx(printed, abs=0.0051)
    # The page multiplies a truncated factor.
    assert chart.upper == pytest.approx(52.5884, abs=3e-4)
    assert chart.lower == pytest.approx(47.4115, abs=3e-4)
    assert chart.signals == ()


def test_the_cumulative_sums_of_6_3_2_3():
    high = [0, 0, 0, 0, 0.03, 0, 0, 0, 0, 0, 0, 0, 3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.0, 19.04]
    low = [0, 0.01, 0, 0.33, 0, 0, 0.56, 0.72, 0.17, 0.25, 0.31, 0, 0, 0, 0, 0, 0, 0, 0, 0]
    chart = cusum(FILLING, target=325.0, k=0.3175, h=4.1959)
    assert chart.high == pytest.approx(high, abs=0.0051)
    assert chart.low == pytest.approx(low, abs=0.006)
    assert chart.high[12] == pytest.approx(3.0075, abs=1e-9)
    assert chart.high[13] == pytest.approx(4.94, abs=1e-9)
    assert [signal.index for signal in chart.signals] == [14, 15, 16, 17, 18, 19, 20]

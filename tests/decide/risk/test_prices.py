"""The price process: fitted again to the shipped record, and its moments in closed form."""

import numpy as np
import pytest

from renovation.decide.risk import calibrate, draw_futures, price_record, worst_years
from renovation.farm import expected_price_path, net_prices
from renovation.inputs import Risk, demo_scenario
from renovation.money.prices import (
    fit_price_process,
    log_price_covariance,
    price_factors,
    reverting_path,
    worst_run,
)

# World Bank commodity price data, log of the real series (2010 US$), first-order autoregression with intercept:
# persistence, its standard error, sd, half-life in years, long-run median as printed in the project's evidence, D.
FITTED = [
    (1960, 2023, "0.834", "0.070", "0.218", "3.8", "2.47"),
    (1980, 2023, "0.792", None, "0.181", None, None),
    (1960, 2024, "0.846", None, "0.240", None, None),
]


@pytest.mark.parametrize(("first", "last", "phi", "error", "sd", "half_life", "median"), FITTED)
def test_the_fit_gives_the_printed_figures(first, last, phi, error, sd, half_life, median):
    fit = calibrate(first, last)
    assert f"{fit.persistence:.3f}" == phi
    assert f"{fit.sd:.3f}" == sd
    for found, printed, digits in (
        (fit.standard_error, error, 3),
        (fit.half_life_years, half_life, 1),
        (fit.long_run_median, median, 2),
    ):
        assert printed is None or f"{found:.{digits}f}" == printed


@pytest.mark.parametrize("window", [(1960, 2023), (1980, 2023), (1960, 2024)])
def test_the_fit_is_that_of_a_general_least_squares_solver(window):
    fit = calibrate(*window)
    log = np.log(price_record().window(*window))
    left = np.column_stack([np.ones(log.size - 1), log[:-1]])
    (intercept, slope), residual, _, _ = np.linalg.lstsq(left, log[1:], rcond=None)
    variance = residual[0] / (log.size - 3)
    assert fit.persistence == pytest.approx(slope, rel=1e-9)
    assert fit.sd == pytest.approx(np.sqrt(variance), rel=1e-9)
    assert fit.standard_error == pytest.approx(np.sqrt(variance * np.linalg.inv(left.T @ left)[1, 1]), rel=1e-9)
    assert fit.long_run_median == pytest.approx(np.exp(intercept / (1 - slope)), rel=1e-9)
    assert fit.persistence**fit.half_life_years == pytest.approx(0.5, rel=1e-12)


def test_the_defaults_of_a_scenario_are_the_fitted_figures():
    fit = calibrate(1960, 2023)
    assert Risk().price_persistence == round(fit.persistence, 3)
    assert Risk().price_sd == round(fit.sd, 3)


def test_the_largest_moves_are_those_of_the_nominal_series():
    """Evidence D: 2024 +0.804, 1977 +0.617, 1973 +0.563, 1999 −0.390, 2017 −0.354: moves of the nominal series."""
    import csv
    from importlib import resources

    rows = list(
        csv.DictReader(
            resources.files("renovation.defaults").joinpath("cocoa_price_annual_1960_2024.csv").read_text().splitlines()
        )
    )
    nominal = np.array([float(row["nominal_usd_per_kg"]) for row in rows])
    years = [int(row["year"]) for row in rows][1:]
    moves = dict(zip(years, np.diff(np.log(nominal)), strict=True))
    for year, printed in ((2024, 0.804), (1977, 0.617), (1973, 0.563), (1999, -0.390), (2017, -0.354)):
        assert round(moves[year], 3) == printed


def test_a_process_of_known_figures_is_found_again():
    rng = np.random.default_rng(3)
    log = [0.0]
    for shock in rng.normal(0, 0.2, 20_000):
        log.append(0.3 + 0.8 * log[-1] + shock)
    fit = fit_price_process(np.exp(log))
    assert abs(fit.persistence - 0.8) < 4 * fit.standard_error
    assert fit.sd == pytest.approx(0.2, rel=0.02)
    assert fit.long_run_median == pytest.approx(np.exp(1.5), rel=0.03)


@pytest.mark.parametrize(
    "prices", [[1.0, 2.0], [1.0, 2.0, 0.0, 3.0, 4.0], [2.0] * 8, [1.0, 2.0, 4.0, 8.0, 17.0, 36.0], [1.0, 3.0] * 5]
)
def test_prices_that_cannot_be_fitted_are_refused(prices):
    with pytest.raises(ValueError, match=r"price"):
        fit_price_process(prices)


def test_a_window_outside_the_record_is_refused():
    with pytest.raises(ValueError, match="1960 to 2024"):
        calibrate(1950, 2000)


@pytest.mark.parametrize("phi", [0.0, 0.5, 0.834, 1.0])
def test_covariances_are_those_of_the_recursion_run_many_times(phi):
    rng = np.random.default_rng(5)
    years, runs = 6, 200_000
    log = np.zeros((runs, years + 1))
    for y in range(years):
        log[:, y + 1] = phi * log[:, y] + 0.3 * rng.standard_normal(runs)
    expected = log_price_covariance(phi, 0.3, years)
    assert np.abs(np.cov(log[:, 1:].T) - expected).max() < 0.02 * expected.max()
    assert np.abs(price_factors(log[:, 1:], phi, 0.3).mean(axis=0) - 1).max() < 0.01


def test_drawn_prices_have_the_moments_of_the_process():
    futures = draw_futures(Risk(), 25, draws=16_384)
    log = np.log(futures.price)
    variance = np.diag(log_price_covariance(0.834, 0.218, 25))
    assert np.abs(futures.price.mean(axis=0) - 1).max() < 0.005
    assert np.abs(log.mean(axis=0) + variance / 2).max() < 0.005
    assert np.abs(np.cov(log.T) - log_price_covariance(0.834, 0.218, 25)).max() < 0.01 * variance.max()


def test_a_board_sets_the_price_a_year_late_and_a_share_of_a_move_reaches_the_farm():
    market = draw_futures(Risk(), 10, draws=512)
    board = draw_futures(Risk(price_setting="board"), 10, draws=512)
    assert (board.price[:, 0] == 1).all()
    assert (board.price[:, 1:] == market.price[:, :-1]).all()
    half = draw_futures(Risk(farm_gate_share=0.5), 10, draws=512)
    assert np.allclose(half.price - 1, (market.price - 1) / 2, rtol=0, atol=1e-14)


def test_every_factor_has_mean_one_and_its_own_spread():
    risk = Risk(crop_sd=0.2, wage_drift_sd=0.01, input_drift_sd=0.02)
    futures = draw_futures(risk, 20, draws=16_384)
    for name in ("crop", "wage", "inputs"):
        assert np.abs(getattr(futures, name).mean(axis=0) - 1).max() < 0.01
    assert np.log(futures.crop).std(axis=0) == pytest.approx(np.full(20, 0.2), rel=0.02)
    far = np.corrcoef(np.log(futures.crop).T) - np.eye(20)
    assert np.abs(far).max() < 0.03
    assert np.log(futures.wage).std(axis=0) == pytest.approx(0.01 * np.arange(1, 21), rel=0.02)
    assert np.log(futures.inputs).std(axis=0) == pytest.approx(0.02 * np.arange(1, 21), rel=0.02)
    assert futures.luck is not None
    assert np.abs(futures.luck.mean(axis=0) - 0.5).max() < 0.01


def test_the_same_seed_gives_the_same_futures_and_another_seed_others():
    first, again, other = (draw_futures(Risk(), 8, draws=512, seed=seed) for seed in (4, 4, 5))
    assert (first.price == again.price).all()
    assert not (first.price == other.price).any()


@pytest.mark.parametrize("draws", [16, 1000])
def test_a_number_of_futures_that_cannot_be_spread_is_refused(draws):
    with pytest.raises(ValueError, match="power of two"):
        draw_futures(Risk(), 5, draws=draws)


def test_the_worst_five_years_of_the_record():
    first, shares = worst_years()
    record = price_record()
    every = {
        int(record.years[i]): (record.real[i : i + 5] / record.real[i - 1]).mean()
        for i in range(1, record.real.size - 4)
    }
    assert first == min(every, key=every.get)
    assert shares.mean() == pytest.approx(min(every.values()))
    with pytest.raises(ValueError, match="needs 4 prices"):
        worst_run([1.0, 2.0], 3)


def test_expected_prices_may_be_typed_or_revert():
    farm = demo_scenario()
    typed = farm.changed(risk__price_path="typed", risk__price_by_year=(0.9, 0.8))
    assert expected_price_path(typed)[[0, 11, 12, -1]].tolist() == [0.9, 0.9, 0.8, 0.8]
    assert net_prices(typed)[12] == pytest.approx(4.0 * 0.8 - 0.15)
    assert net_prices(typed, "clone")[12] == pytest.approx(4.0 * 1.03 * 0.8 - 0.15)
    back = farm.changed(risk__price_path="reverting", risk__long_run_price=0.5)
    path = expected_price_path(back)[::12]
    # what is left of the logarithmic distance shrinks by φ a year
    left = np.log(path / 0.5)
    assert left[1:] / left[:-1] == pytest.approx(np.full(24, 0.834))
    assert left[0] == pytest.approx(0.834 * np.log(1 / 0.5))
    assert reverting_path(0.834, 1.0, 5).tolist() == [1.0] * 5

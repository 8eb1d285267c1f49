"""The book of a lender: expected figures where nothing is uncertain, all or none, and one farm as good as another."""

from functools import partial
from itertools import chain, islice

import numpy as np
import pandas as pd
import pytest
from farms.many import invented, with_loans
from farms_at_work import Here

from renovation.decide.lending import at_price
from renovation.decide.risk import as_expected
from renovation.farms.arrays import compare_many
from renovation.farms.batch import Batch
from renovation.farms.book import (
    LATE,
    PRICES,
    Draws,
    Sample,
    as_text,
    book_each,
    chosen_batches,
    late_in,
    layout_of,
    sample_of,
)
from renovation.farms.booked import added_up, unpacked
from renovation.farms.months import cash_many
from renovation.farms.run import Asked, run_batches
from renovation.inputs import demo_scenario

FEW = Draws(number=64)
CALM = {"price_sd": 0.0, "crop_sd": 0.0, "take_spread": 0.0, "wage_drift_sd": 0.0, "input_drift_sd": 0.0}
PLAIN = {"price_sd": 0.0, "take_spread": 0.0, "wage_drift_sd": 0.0, "input_drift_sd": 0.0}


def uncertain(batch, **spreads):
    """The same farms with other spreads."""
    risk = batch.template.risk.model_copy(update=spreads)
    return Batch(batch.template.model_copy(update={"risk": risk}), batch.farms, batch.stands)


def equal_farms(number, **spreads):
    """Farms alike in all but their names, with a loan that a poor year cannot pay."""
    template = with_loans(demo_scenario())
    template = template.model_copy(update={"loans": template.loans[:1]})
    names = [f"Farm {place:04d}" for place in range(number)]
    farms = pd.DataFrame(
        {"household.savings": 0.0, "household.living_costs": 150.0}, index=pd.Index(names, name="farm")
    )
    stands = pd.DataFrame({"farm": names, "stand": "Hill", "stands.trees": 300})
    return uncertain(Batch(template, farms, stands), **spreads)


def told(batch, draws=FEW, sample=None):
    """The book of a batch, at once."""
    found = book_each(batch, draws)
    strata = (sample or sample_of([batch])).strata
    return added_up(found["farms"], [found["dues"]], strata, draws.number)


@pytest.fixture(scope="module")
def some():
    return invented(6, 3, with_loans(demo_scenario()))


def test_without_spreads_the_book_is_the_expected_run(some):
    calm = uncertain(some, **CALM)
    found = book_each(calm, Draws(number=32))
    cash = cash_many(calm).set_index("farm").loc[found["farms"]["farm"]]
    assert cash["missed_instalments"].sum() > 0
    assert found["farms"]["missed_1"].tolist() == cash["missed_instalments"].tolist()
    assert found["farms"]["instalments"].tolist() == cash["instalments"].tolist()
    assert found["dues"].groupby("farm")["due"].sum().to_numpy() == pytest.approx(
        cash["debt_service"][cash["instalments"] > 0].to_numpy()
    )


@pytest.mark.long
def test_a_way_that_each_farm_begins_is_that_of_the_comparison(some):
    calm, way = uncertain(some, **CALM), "side_graft"
    found = book_each(calm, Draws(number=32), way=way)["farms"].set_index("farm")["missed_1"]
    as_it_is = book_each(calm, Draws(number=32))["farms"].set_index("farm")["missed_1"]
    weighed = compare_many(calm, cash=True).set_index(["farm", "stand", "technique"])["missed_instalments"]
    begun = []
    for name in calm.farms.index:
        one = name, calm.scenario(name).comparison.stand, way
        assert found[name] == (weighed[one] if one in weighed.index else as_it_is[name])
        begun.append(one in weighed.index)
    assert any(begun)
    assert (found != as_it_is).any()


@pytest.mark.long
def test_a_book_that_was_stopped_is_gone_on_with_to_the_same_bytes(tmp_path):
    few = equal_farms(3)

    def ran(folder, after=None, **more):
        batches = chosen_batches([few], sample_of([few]), size=1)
        function = partial(book_each, draws=Draws(number=32))
        whole = islice(batches, after)
        found = chain(whole, stop()) if after else whole
        run_batches(function, found, folder, Asked("book"), farms=3, crew=Here(), **more)
        return {path.name: path.read_bytes() for path in folder.iterdir() if path.name != "run.json"}

    def stop():
        raise InterruptedError
        yield

    undisturbed = ran(tmp_path / "undisturbed")
    assert {"farms.parquet", "dues.parquet"} <= set(undisturbed)
    with pytest.raises(InterruptedError):
        ran(tmp_path / "run", after=2)
    assert list((tmp_path / "run" / "parts").glob("*.json"))
    assert ran(tmp_path / "run", resume=True) == undisturbed


def test_a_lower_price_is_the_farm_at_that_price(some):
    for name in some.farms.index[:3]:
        farm = some.scenario(name)
        expected = as_expected(farm.appraisal.horizon_years)
        late = late_in(layout_of(farm), expected)[:, 0]
        for place, price in enumerate(PRICES):
            lower = late_in(layout_of(at_price(farm, price)), expected, (1.0,))[0, 0]
            assert (late[place] == lower).all()


def test_what_is_common_hits_equal_farms_all_or_none():
    batch = equal_farms(4, take_spread=0.0)
    dues = book_each(batch, Draws(number=64, season=1.0))["dues"]
    late = unpacked(dues["late_1"], 64)
    by_month = pd.DataFrame(late).groupby(dues["month"].to_numpy()).sum()
    assert 0 < late.mean() < 1
    assert set(np.unique(by_month)) == {0.0, 4.0}


@pytest.mark.long
def test_what_is_each_farms_own_evens_out():
    draws = Draws(number=512, season=0.0)
    batch = equal_farms(128, **PLAIN, crop_sd=0.4)
    dues = book_each(batch, draws)["dues"]
    of_farm = pd.DataFrame(unpacked(dues["late_1"], 512)).groupby(dues["farm"].to_numpy()).sum().to_numpy()
    alone = of_farm.var(axis=1, ddof=1).mean()
    assert alone > 0
    for farms in (8, 32, 128):
        shares = of_farm.reshape(-1, farms, 512).mean(axis=1)
        # σ²/n for independent farms: 512 futures tell a variance to √(2/511) = 6 %, here within four times that
        assert shares.var(axis=1, ddof=1).mean() == pytest.approx(alone / farms, rel=0.25)


@pytest.mark.long
def test_batches_and_order_do_not_matter(some):
    whole = book_each(some, FEW)
    turned = Batch(some.template, some.farms[::-1], some.stands[::-1].reset_index(drop=True))
    parts = [book_each(batch, FEW) for batch in chosen_batches([turned], sample_of([turned]), size=2)]
    for name in ("farms", "dues"):
        together = pd.concat([part[name] for part in parts]).sort_values("farm", kind="stable", ignore_index=True)
        mine = whole[name][whole[name]["farm"].isin(together["farm"])].reset_index(drop=True)
        pd.testing.assert_frame_equal(mine, together, check_dtype=False)


@pytest.mark.long
def test_months_villages_and_ways_add_up_to_the_whole(some):
    villages = some.farms.assign(village=["Upper", "Lower"] * 3)
    book = told(Batch(some.template, villages, some.stands))
    for price in PRICES:
        for by in ("month", "village", "way"):
            rows, whole = book.of(by, price), book.of("all", price).iloc[0]
            for column in ("instalments", "missed", "due"):
                assert rows[column].sum() == pytest.approx(whole[column])
    worse = [book.of("all", price)["missed"][0] for price in PRICES]
    assert worse == sorted(worse)
    assert book.whole["missed"] <= book.whole["missed_p90"] <= book.whole["missed_worst_tenth"]
    assert 0 < book.whole["error_of_futures"] < book.whole["missed"]
    assert 0 < book.whole["share_outside_harvest"] < 1
    assert (book.table["error_of_sample"] == 0).all()


def test_the_error_of_a_sample_is_that_of_its_strata():
    # Cochran (1977), Sampling techniques, theorem 5.3, by hand: N = 10, n = 2, s² = 2, so √(10·8·2/2) = √80
    heads = {"farm": ["A", "B"], "template": "", "village": "", "way": ""}
    farms = pd.DataFrame({**heads, "instalments": 2, **{f"missed_{price:g}": [0.0, 2.0] for price in PRICES}})
    dues = pd.DataFrame({"farm": ["A", "A", "B", "B"], "template": "", "village": "", "way": "", "due": 5.0})
    dues = dues.assign(month=["2027-04", "2027-05"] * 2, in_harvest=[True, False] * 2)
    dues = dues.assign(**dict.fromkeys(LATE, pd.Series(["", "", "ff", "ff"])))
    book = added_up(farms, [dues], {"\n\n": 10}, 8)
    whole = book.whole
    assert (whole["farms"], whole["instalments"], whole["missed"], whole["due"]) == (10, 20, 10, 100)
    assert whole["error_of_sample"] == pytest.approx(1.96 * 80**0.5)
    assert book.of("month")["error_of_sample"].tolist() == pytest.approx([1.96 * 20**0.5] * 2)


def test_of_many_farms_a_share_of_each_stratum_is_chosen_by_name():
    batch = equal_farms(60)
    villages = batch.farms.assign(village=["Upper"] * 50 + ["Lower"] * 10)
    many = Batch(batch.template, villages, batch.stands)
    sample = sample_of([many], most=12)
    assert sample.strata == {"\nLower\n": 10, "\nUpper\n": 50}
    chosen = many.farms.loc[sorted(sample.farms), "village"].value_counts()
    assert chosen.to_dict() == {"Upper": 10, "Lower": 2}
    turned = Batch(many.template, many.farms[::-1], many.stands)
    assert sample_of([turned], most=12).farms == sample.farms
    assert sum(len(some) for some in chosen_batches([many], sample)) == 12


def test_a_farm_without_a_loan_is_not_in_the_book():
    batch = equal_farms(3)
    none = batch.farms.assign(**{"loans.Level.amount": [0.0, 100.0, 0.0]})
    some = Batch(batch.template, none, batch.stands)
    assert sample_of([some]) == Sample(None, {"\n\n": 1}, 1, 3)
    assert [list(one.farms.index) for one in chosen_batches([some], sample_of([some]))] == [["Farm 0001"]]


@pytest.mark.long
def test_a_sample_tells_all_farms_within_its_error_as_often_as_it_says():
    batch = equal_farms(300)
    rng = np.random.default_rng(5)
    place = np.where(np.arange(300) < 240, "Upper", "Lower")
    many = Batch(batch.template, batch.farms.assign(village=place), batch.stands)
    late = rng.random((300, 8)) < np.where(place == "Upper", 0.2, 0.7)[:, None] * rng.random((300, 1))
    head = {"farm": many.farms.index, "template": "", "village": place, "way": ""}
    farms = pd.DataFrame({**head, "instalments": 1})
    due = {"month": "2027-04", "in_harvest": True, "due": 1.0}
    texts = pd.Series([as_text(row) for row in late])
    dues = pd.DataFrame({**head, **due}).assign(**dict.fromkeys(LATE, texts))
    within = []
    for seed in range(50):
        sample = sample_of([many], seed=seed, most=60)
        mine = farms["farm"].isin(sample.farms)
        whole = added_up(farms[mine], [dues[mine]], sample.strata, 8).whole
        within.append(abs(whole["missed"] - late.mean(axis=1).sum()) <= whole["error_of_sample"])
    # 47.5 of 50 but for four standard errors of that count, √(50·0.95·0.05) = 1.54
    assert sum(within) >= 41

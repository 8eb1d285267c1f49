"""The demo farms in `scenarios/`: invented, sound, and near what a specialist would expect."""

import pytest
from farm_files import FARMS as FILES

from renovation.inputs import Scenario, demo_names, load_scenario

FARMS = {file.stem: load_scenario(file) for file in FILES}


def in_usd(farm: Scenario, money: float) -> float:
    return money / (farm.appraisal.currency_per_usd or 1.0)


def test_five_farms_with_unlike_seasons_and_currencies() -> None:
    assert {"first_grafters", "few_hands", "old_stand_with_gaps", "cooperative_nursery", "third_year"} <= set(FARMS)
    assert set(demo_names()) == set(FARMS)
    assert len({farm.market.season.shares for farm in FARMS.values()}) == len(FARMS)
    assert len({farm.appraisal.currency for farm in FARMS.values()}) >= 3
    assert len({farm.digest for farm in FARMS.values()}) == len(FARMS)


def test_one_farm_is_in_its_third_year() -> None:
    farm = FARMS["third_year"]
    assert sum(entry.trees for entry in farm.under_way) == 240
    assert len({entry.technique for entry in farm.under_way}) == 2
    assert any(loan.running for loan in farm.loans)
    assert len({record.season[:4] for record in farm.planning.records if record.season}) == 2
    assert farm.wholes
    assert sum(stand.empty_places for stand in farm.stands)


@pytest.mark.parametrize("farm", FARMS.values(), ids=FARMS)
class TestEachFarm:
    def test_is_labelled_invented(self, farm: Scenario) -> None:
        assert farm.about.invented
        assert "invented" in farm.about.note

    def test_old_stands_bear_what_old_stands_bear(self, farm: Scenario) -> None:
        # Old or neglected stands 200–600 kg/ha a year (Quiroz & Amores 2002; Aneani & Ofori-Frimpong 2013)
        # a stand that was walked class by class is one stand
        whole: dict[str, list[float]] = {}
        for stand in farm.stands:
            assert stand.hectares is not None
            if not stand.untouched:
                kg, ground = whole.setdefault(stand.part_of or stand.name, [0.0, 0.0])
                whole[stand.part_of or stand.name] = [kg + stand.kg_per_tree * stand.trees, ground + stand.hectares]
        for name, (kg, ground) in whole.items():
            assert 190 <= kg / ground <= 610, name

    def test_stands_are_planted_at_known_densities(self, farm: Scenario) -> None:
        # 833–1,660 trees a hectare; fewer than about 800 with large gaps (national guides)
        for stand in farm.stands:
            assert 600 <= stand.trees / (stand.hectares or 1) <= 1660, stand.name

    def test_farm_gate_price_and_wage_are_sane(self, farm: Scenario) -> None:
        # Common practice, no source
        assert 3 <= in_usd(farm, farm.market.dry_price_per_kg) <= 6
        assert 4 <= in_usd(farm, farm.household.wage_per_day) <= 15

    def test_plan_keeps_to_each_technique_s_months_and_trees(self, farm: Scenario) -> None:
        assert farm.plan
        for treatment in farm.plan:
            technique = farm.techniques[treatment.technique]
            assert int(treatment.start[5:]) in technique.start_months
            assert farm.month_of(treatment.start) + technique.earliest_month >= 0
            allowed = farm.stand(treatment.stand).techniques
            assert allowed is None or treatment.technique in allowed
            assert not farm.stand(treatment.stand).untouched
        for stand in farm.stands:
            planned = [t for t in farm.plan if t.stand == stand.name]
            on_places = sum(t.trees for t in planned if farm.techniques[t.technique].works_on == "empty places")
            assert sum(t.trees for t in planned) - on_places <= farm.free_trees(stand.name)
            assert on_places <= farm.free_places(stand.name)

    def test_horizon_outruns_the_plan_by_ten_years(self, farm: Scenario) -> None:
        last = max(farm.month_of(treatment.start) for treatment in farm.plan)
        assert farm.appraisal.months - last >= 120

    def test_headline_pair_can_be_compared(self, farm: Scenario) -> None:
        comparison = farm.comparison
        assert comparison.stand is not None
        assert comparison.trees is not None
        assert comparison.trees <= farm.stand(comparison.stand).trees
        assert {comparison.headline, comparison.against} <= set(farm.techniques)

    def test_harvest_loans_are_repaid_when_cocoa_is_sold(self, farm: Scenario) -> None:
        assert farm.loans
        for loan in farm.loans:
            assert sum(payout.share for payout in loan.payouts) == pytest.approx(1)
            for month in loan.harvest_months:
                assert farm.market.season.shares[month - 1] > 0

"""Planting material where it is said: names of drivers, the report's appendix, the workbook, a plan, what changed."""

import io

import openpyxl
import pytest

from renovation.decide import compare, ranges
from renovation.decide.dossier import Dossier
from renovation.decide.risk import sensitivity
from renovation.inputs import demo_scenario
from renovation.show.changes import change_said
from renovation.show.clones import kind_name
from renovation.show.compare import tables
from renovation.show.figures import cautions
from renovation.show.planting import group_reasons
from renovation.show.report import parts, stated
from renovation.show.risk.sentences import driver_name
from renovation.show.workbook import workbook
from renovation.words import Words

WORDS = Words("en")
PREMIUM = {"value": 0.1, "low": 0.0, "high": 0.2, "unit": "share of the price", "source": "own"}


def farm(name="few_hands"):
    """A farm that sets KW 30 beside DR 1 and plants EETP 800, for which it gets a premium of its own."""
    uses = {"side_graft": ("dr_1", "kw_30"), "rooted_cutting": ("eetp_800",)}
    ours = {f"techniques__{way}__planting_materials": names for way, names in uses.items()}
    return demo_scenario(name).changed(**ours).changed(materials__eetp_800__premium=PREMIUM)


@pytest.mark.long
def test_drivers_and_ranges_name_the_clones_that_state_them():
    comparison = compare(farm(), techniques=["side_graft", "rooted_cutting"])
    found = sensitivity(comparison)
    names = {bar.driver: driver_name(found, bar, WORDS) for bar in found.bars}
    assert names["mature_crop"] == "Crop of a grown tree (KW 30)"  # of DR 1 no crop is known
    assert "(" not in names["new_crown"]  # no months to bearing are stated for grafts
    told = tables.ranges(comparison, "rooted_cutting", ranges(comparison, "rooted_cutting"), WORDS)
    assert "how fast the new crown bears (EETP 800)" in [row[0] for row in told.rows]


@pytest.mark.long
def test_the_appendix_lists_what_is_known_of_the_clones_with_source_and_reason():
    held = farm()
    page = str(parts.assumptions(Dossier(held), WORDS))
    for said in ("Crop of a grown tree", "Susilo 2006", "Side grafting uses DR 1 and KW 30.", "Divided by 1,111 trees"):
        assert said in page
    plain = str(parts.assumptions(Dossier(demo_scenario("few_hands")), WORDS))
    assert "Planting material: what is known" not in plain
    # the premium of the clones is theirs, not one that the family states of a kind of material
    assert not any("of rooted cutting" in cell for row in stated.stated(held, WORDS).rows for cell in row)
    assert kind_name(held, held.techniques["rooted_cutting"].material, WORDS) == "EETP 800"
    assert WORDS("caution.clean_budwood") in [row[0] for row in cautions(held.techniques, WORDS).rows]


@pytest.mark.long
def test_the_workbook_lists_them_too_and_names_the_premium_by_its_clone():
    book = openpyxl.load_workbook(io.BytesIO(workbook(farm(), WORDS)), read_only=True)
    said = {str(cell) for sheet in book for row in sheet.iter_rows(values_only=True) for cell in row if cell}
    wanted = {"Quality premium: EETP 800", "Crop of a grown tree: KW 30", "Compatibility group: DR 1"}
    assert wanted <= said
    assert not any("of rooted" in cell for cell in said)


def test_a_change_is_said_of_what_was_stated():
    plain = demo_scenario("few_hands")
    one = plain.changed(techniques__side_graft__planting_materials=("kw_30",))
    assert change_said(plain, one, WORDS).startswith("Planting material, Side graft")
    assert change_said(one, one.changed(techniques__side_graft__mature_crop__value=1.1), WORDS) == (
        "Full crop, Side graft from 1 to 1.1 kg of dry beans per tree and year"
    )


def test_each_kind_of_pollination_says_why_with_its_source():
    said = group_reasons(WORDS)
    assert len(said) == 3
    assert all("Source: published: " in one for one in said)

"""`renovation loan --record` and the workbook's: what is said, the stable keys, and refusals in a sentence."""

import json

import pytest
from command_line import refused, said

from renovation.inputs import scenario_folder
from renovation.inputs.season_table import COLUMNS

HANDS = scenario_folder() / "few_hands.toml"
LOAN = "Three-year loan"
SEASON = "season,,,,,,,,2026-09\nmoney_in_hand,,,,,,,,60000\n"
HOSTILE = {
    f"loan_paid,,,,,2026-11,,{LOAN},1e400": "1e400 ",
    f"loan_paid,,,,,2026-11,,{LOAN},nan": "nan is not a number.",
    f"loan_paid,,,,,2026-1\u0661,,{LOAN},5": "2026-1\u0661 under month is no month.",
    f"loan_paid,,,,,2026-11,,{LOAN} ; drop,5": f"No loan is called {LOAN} ; drop.",
    f"loan_paid,,,,,2027-09,,{LOAN},5": "2027-09 is not in this season.",
    f"loan_received,,,,,2026-10,,{LOAN},999999": "999999 in all was received of Three-year loan",
    f"loan_received,,,,,2026-10,,{LOAN},0\nloan_paid,,,,,2026-11,,{LOAN},5": "A payment on Three-year loan is recorded",
}


def written(tmp_path, *lines):
    path = tmp_path / "season.csv"
    path.write_text(f"{','.join(COLUMNS)}\n{SEASON}" + "\n".join(lines), "utf-8")
    return path


@pytest.mark.parametrize("line", HOSTILE)
def test_a_record_that_cannot_be_is_refused_in_a_sentence(capsys, tmp_path, line):
    told = refused(capsys, "loan", HANDS, "--record", written(tmp_path, line))
    assert HOSTILE[line] in told
    assert "Traceback" not in told


@pytest.mark.long
def test_after_signing_stands_first_and_its_keys_are_stable(capsys, tmp_path):
    record = written(tmp_path, f"loan_paid,,,,,2026-11,,{LOAN},8750")
    out = said(capsys, "loan", HANDS, "--record", record)
    assert out.index("After signing") < out.index("The loan does not fit.")
    document = json.loads(said(capsys, "loan", HANDS, "--record", record, "--json"))["after_signing"]
    assert list(document) == ["season", "currency", "judged_from", "loans"]
    (loan,) = document["loans"]
    assert list(loan) == [
        *("name", "owed", "paid", "assumed", "late", "overpaid", "account", "payouts"),
        *("payouts_to_come", "as_it_stands", "ways_on"),
    ]
    assert list(loan["account"][0]) == [
        *("month", "due", "paid", "interest", "late_charge", "to_interest", "to_principal", "balance", "late", "ahead"),
    ]
    assert [way["fits"] for way in loan["ways_on"]] == [True] * len(loan["ways_on"])
    assert "after_signing" not in json.loads(said(capsys, "loan", HANDS, "--json"))

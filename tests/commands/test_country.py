"""One farm in two countries: for people the same numbers in each country's writing, for programs the same text."""

import re

from renovation.commands.program import main
from renovation.inputs import scenario_folder

SWAPPED = str.maketrans(",.", ".,")


def test_people_read_their_country_s_numbers_and_programs_the_same_in_both(capsys, tmp_path):
    """Ecuador writes 1.234,5 and Peru 1,234.5, both in Spanish (CLDR)."""
    path, told = tmp_path / "farm.toml", {}
    text = (scenario_folder() / "first_grafters.toml").read_text("utf-8")
    for country in ("EC", "PE"):
        path.write_text(text.replace("[about]", f'[about]\ncountry = "{country}"'), "utf-8")
        for form in ((), ("--json",)):
            assert main(["cash", str(path), "--language", "es", *form]) == 0
            told[country, form] = capsys.readouterr().out
    numbers = {country: re.findall(r"\d[\d.,]*\d", told[country, ()].partition("\n")[2]) for country in ("EC", "PE")}
    assert [number.translate(SWAPPED) for number in numbers["EC"]] == numbers["PE"]
    assert any(re.fullmatch(r"\d{1,3},\d{3}", number) for number in numbers["PE"])
    one, other = (re.sub(r"\b[0-9a-f]{12}\b", "", told[country, ("--json",)]) for country in ("EC", "PE"))
    assert one == other

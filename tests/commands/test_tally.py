"""A walk by the command line: what was counted is set out, and a farm with a stand a class is written."""

import json

from command_line import refused, said

from renovation.inputs import load_scenario, scenario_folder

FARM = scenario_folder() / "few_hands.toml"


def walk(folder, *pods):
    path = folder / "walk.csv"
    path.write_text("\n".join(["tree,pods", *(f"{tree},{count}" for tree, count in enumerate(pods, 1))]))
    return path


def test_a_walk_is_set_out_and_its_farm_written(capsys, tmp_path):
    first = load_scenario(FARM).stands[0]
    path = walk(tmp_path, *[30, 18, 6, 0] * first.trees, "empty")
    text = " ".join(said(capsys, "tally", FARM, path, "-o", tmp_path / "walked.toml").split())
    assert (
        f"Counted in {first.name}: {4 * first.trees:,} trees with 13.5 pods a tree and year, and 1 empty place." in text
    )
    assert f"{4 * first.trees:,}, and these are taken." not in text  # told as trees
    assert "50% of the trees bear 10 pods or fewer" in text
    farm = load_scenario(tmp_path / "walked.toml")
    assert [part.trees for part in farm.wholes[first.name]] == [first.trees] * 4
    document = json.loads(said(capsys, "tally", FARM, path, "--json", "--pods-per-kg", "20"))["tally"]
    assert (document["pods_per_kg"], document["average"]["pods_per_tree"]) == (20, 18)


def test_what_cannot_be_read_or_written_is_refused_in_a_sentence(capsys, tmp_path):
    path = walk(tmp_path, *[30] * 5000)
    assert "Name a table" in refused(capsys, "tally", FARM)
    assert "cannot be read" in refused(capsys, "tally", FARM, tmp_path / "none.csv")
    assert "there is no stand Hill" in refused(capsys, "tally", FARM, path, "--stand", "Hill")
    assert "cannot be. Write a number from 5 to 100." in refused(capsys, "tally", FARM, path, "--pods-per-kg", "1")
    assert ".toml" in refused(capsys, "tally", FARM, path, "-o", tmp_path / "out.csv")
    assert "line 2" in refused(capsys, "tally", FARM, walk(tmp_path, "x"))

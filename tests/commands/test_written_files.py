"""Files that commands write: whole or not at all, of the kind their name says, and a sentence where they cannot be."""

import errno
import os
import resource
import sys
from contextlib import contextmanager
from pathlib import Path
from types import SimpleNamespace

import pytest
from command_line import refused, said

from renovation.inputs import load_scenario, scenario_folder, season_cells, season_csv
from renovation.whole import write_whole

FIRST = scenario_folder() / "first_grafters.toml"
WRITERS = {
    "report": ("report", FIRST, "-o", "out.html"),
    "workbook": ("workbook", FIRST, "-o", "out.xlsx"),
    "demo": ("demo", "-o", "out.toml"),
    "sheet": ("sheet", FIRST, "-o", "out.html"),
    "new": ("new", "--blank", "-o", "out.toml"),
    "season": ("season", FIRST, "--blank", "-o", "out.html"),
    "next": ("next", FIRST, "--record", "../season.csv", "-o", "out.toml"),
    "tally": ("tally", FIRST, "../walk.csv", "-o", "out.toml"),
    "csv": ("compare", FIRST, "--csv", "out.csv"),
}


@contextmanager
def room_for(size):
    """No file may grow beyond this many bytes, as on a disk that is filling up; Python's own would be cut too."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    kept, sys.dont_write_bytecode = sys.dont_write_bytecode, True
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        sys.dont_write_bytecode = kept
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def full_disk(*_):
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """An empty folder to work in, with a walk and an empty record of a season above it.

    Report, workbook and sheet, which take seconds to search and to draw, stand ready.
    """
    here = tmp_path / "here"
    here.mkdir()
    monkeypatch.chdir(here)
    (tmp_path / "walk.csv").write_text("tree,pods\n" + "".join(f"{tree},20\n" for tree in range(1, 601)))
    (tmp_path / "season.csv").write_text(season_csv(season_cells(load_scenario(FIRST))))
    monkeypatch.setattr("renovation.show.note.note_of", lambda *_: "report" * 1000)
    monkeypatch.setattr("renovation.show.workbook.workbook", lambda *_: b"workbook" * 1000)
    monkeypatch.setattr("renovation.show.sheet.wall_sheet", lambda *_, **__: "sheet" * 1000)
    monkeypatch.setattr("renovation.decide.dossier.Dossier.careful", None)
    monkeypatch.setattr("renovation.decide.dossier.Dossier.shown_as", "careful")
    monkeypatch.setattr("renovation.decide.dossier.Dossier.shown", SimpleNamespace(plan=None))
    return here


def files(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.mark.parametrize("argv", WRITERS.values(), ids=WRITERS)
def test_a_disk_that_fills_up_is_told_and_leaves_no_file(capsys, folder, monkeypatch, argv):
    path = argv[-1]
    with room_for(1000):
        assert refused(capsys, *argv) == f"{path} cannot be written: the disk refused."
    monkeypatch.setattr("renovation.whole.os.fsync", full_disk)
    assert refused(capsys, *argv) == f"{path} cannot be written: the disk is full."
    assert files(folder) == {}


def test_a_disk_that_fills_up_leaves_the_old_table(capsys, folder):
    Path("out.csv").write_text("old")
    with room_for(1000):
        assert refused(capsys, *WRITERS["csv"]) == "out.csv cannot be written: the disk refused."
    assert files(folder) == {"out.csv": b"old"}
    assert said(capsys, *WRITERS["csv"]).endswith("Written: out.csv\n")
    assert files(folder)["out.csv"].startswith(b"stand,")


def test_a_full_device_is_told(capsys):
    expected = "/dev/full cannot be written: the disk is full."
    assert refused(capsys, "compare", FIRST, "--csv", "/dev/full") == expected


@pytest.mark.parametrize(
    ("command", "path", "ending"),
    [
        ("report", "out.pdf", ".html"),
        ("report", "out", ".html"),
        ("report", "html", ".html"),
        ("sheet", "out.pdf", ".html"),
        ("workbook", "out.ods", ".xlsx"),
        ("workbook", "out.xls", ".xlsx"),
        ("workbook", "out.xlsx.pdf", ".xlsx"),
    ],
)
def test_a_file_of_another_kind_is_refused(capsys, folder, command, path, ending):
    expected = f"-o: {path} is not possible. Name a file that ends in {ending}."
    assert refused(capsys, command, FIRST, "-o", path) == expected
    assert files(folder) == {}


def test_an_ending_in_large_letters_is_the_same_kind(capsys, folder):
    said(capsys, "workbook", FIRST, "-o", "OUT.XLSX")
    assert list(files(folder)) == ["OUT.XLSX"]


# The one place where files are written


def test_a_file_that_appears_meanwhile_is_not_written_over(tmp_path):
    place = tmp_path / "a"
    place.write_bytes(b"theirs")
    with pytest.raises(FileExistsError):
        write_whole(place, b"ours", over=False)
    dangling = tmp_path / "b"
    dangling.symlink_to(tmp_path / "nowhere")
    with pytest.raises(FileExistsError):
        write_whole(dangling, b"ours", over=False)
    assert place.read_bytes() == b"theirs"
    assert not (tmp_path / "nowhere").exists()


@pytest.mark.parametrize("appears", [False, True])
def test_a_disk_without_second_names_takes_files_too(tmp_path, monkeypatch, appears):
    """FAT, the file system of memory sticks, knows no hard links: the system refuses with EPERM (link(2))."""
    place = tmp_path / "a"

    def refuse(*_):
        if appears:
            place.write_bytes(b"theirs")
        raise PermissionError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr("renovation.whole.os.link", refuse)
    if appears:
        with pytest.raises(FileExistsError):
            write_whole(place, b"ours", over=False)
    else:
        write_whole(place, b"ours", over=False)
    assert files(tmp_path) == {"a": b"theirs" if appears else b"ours"}


def test_permissions_and_links_stay(tmp_path):
    place, link = tmp_path / "a", tmp_path / "b"
    place.write_bytes(b"old")
    place.chmod(0o640)
    link.symlink_to(place)
    write_whole(link, b"new", over=True)
    assert (place.read_bytes(), link.is_symlink(), place.stat().st_mode & 0o777) == (b"new", True, 0o640)
    kept = os.umask(0o027)
    try:
        write_whole(tmp_path / "c", b"new", over=False)
    finally:
        os.umask(kept)
    assert (tmp_path / "c").stat().st_mode & 0o777 == 0o640


@pytest.mark.parametrize(
    ("name", "error"),
    [("", FileNotFoundError), ("no/such/a", FileNotFoundError), ("new/", FileNotFoundError), (".", IsADirectoryError)],
)
def test_a_name_that_is_no_file_is_refused(tmp_path, monkeypatch, name, error):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(error):
        write_whole(name, b"ours", over=True)
    assert files(tmp_path) == {}

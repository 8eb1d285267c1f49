"""Files are written whole or not at all: beside their place, then put into it (a leaf of the house)."""

import os
import stat
import threading

WRITING = threading.Lock()
"""Held while a file goes to its place: who ends the program waits for it, so that no half of one is left."""


def write_whole(path: "str | os.PathLike[str]", content: bytes, *, over: bool) -> None:
    """Write a file beside its place and put it there once it is whole; until then what stood there stays.

    over: whether a file that stands there may be replaced; its permissions stay, and a link to it stays a link. What
    is no file, such as a pipe, is written to as it is.

    Errors: FileExistsError where something stands there and `over` is False; OSError where the file cannot be
    written: then the old one, or none, is there; ValueError for a name that no file can have.
    """
    with WRITING:
        if os.path.lexists(path) and not over:
            raise FileExistsError(path)
        old = os.stat(path) if os.path.exists(path) else None
        if old is not None and not stat.S_ISREG(old.st_mode):
            with open(path, "wb") as device:
                device.write(content)
            return
        if old is not None and not os.access(path, os.W_OK):
            raise PermissionError(path)
        if not os.path.basename(path):
            raise FileNotFoundError(path)
        _write_beside(os.path.realpath(path), content, old)


def _write_beside(place: str, content: bytes, old: os.stat_result | None) -> None:
    """Write a file beside its place, then put it there: over the old one, or where nothing may stand."""
    beside = os.path.join(os.path.dirname(place), f".{os.urandom(8).hex()}.part")
    try:
        with open(beside, "xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if old is None:
            _move(beside, place)
        else:
            os.chmod(beside, stat.S_IMODE(old.st_mode))
            os.replace(beside, place)
    finally:
        if os.path.exists(beside):
            os.unlink(beside)


def _move(beside: str, place: str) -> None:
    """Give a file its name; FileExistsError where another took that name in the meantime."""
    try:
        os.link(beside, place)
    except FileExistsError:
        raise
    except OSError:  # a disk, such as a memory stick, on which a file has one name only
        if os.path.lexists(place):
            raise FileExistsError(place) from None
        os.replace(beside, place)

"""The program as a person at a terminal has it: what a command prints, and what it is refused with."""

from renovation.commands.program import main


def said(capsys, *argv: object) -> str:
    """What a command prints; it must end well and say nothing on the error stream."""
    assert main([str(word) for word in argv]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return out


def refused(capsys, *argv: object) -> str:
    """What a command is refused with: exit code 2, sentences on the error stream, nothing printed."""
    assert main([str(word) for word in argv]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    return err.rstrip("\n")

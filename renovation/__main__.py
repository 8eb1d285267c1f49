"""Where the program begins: it loads next to nothing before an interrupt can be heard."""

import os
import signal
import sys
import threading

from renovation.whole import WRITING

INTERRUPTED = 130
"""The exit code of a program that was interrupted: 128 and the signal's number, as shells have it."""
PATIENCE = 2.0
"""Seconds that an interrupt waits for a file on its way to its place."""


def run() -> None:
    """Run the program: the entry point of the `renovation` command. It ends with the exit code."""
    speak_alone()
    end_when_interrupted()
    try:
        from renovation.commands.program import main

        code = main()
        # all is said: while Python puts its things away an interrupt would be heard by nobody but the system
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        sys.exit(code)
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)


def speak_alone() -> None:
    """Keep standard output for the answer: what a library writes there by itself, as the solver does, goes nowhere."""
    heard = None if sys.stdout is None else os.fdopen(os.dup(1), "w", encoding=sys.stdout.encoding)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    if nowhere != 1:  # where output is closed the first file that is opened takes its place
        os.dup2(nowhere, 1)
        os.close(nowhere)
    sys.stdout = sys.__stdout__ = heard  # type: ignore[misc]


def end_when_interrupted() -> None:
    """End at once with exit code 130 when interrupted, whatever the program is at; not where interrupts are ignored.

    A thread waits for the signal: Python's own answer comes too late where a solver is at work, and while a library
    is loaded it is not understood. Where the system lacks what this takes, Python's own answer has to do.
    """
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler and hasattr(os, "set_blocking"):
        hears, rings = os.pipe()
        os.set_blocking(rings, False)
        signal.set_wakeup_fd(rings, warn_on_full_buffer=False)
        signal.signal(signal.SIGINT, lambda *_: None)
        threading.Thread(target=_end, args=(hears,), daemon=True).start()


def _end(hears: int) -> None:
    """Wait for the signal, then for a file on its way, and end."""
    os.read(hears, 1)
    WRITING.acquire(timeout=PATIENCE)
    os._exit(INTERRUPTED)


if __name__ == "__main__":
    run()

"""Solves one programme in a process of its own, so that a person can stop it: HiGHS cannot be interrupted.

Run as a file, it reads a pickled call from standard input and writes the pickled answer to standard output. It
imports the solver layer only when asked, by the path it was given. It ends with the process that began it, whose
number it is given.
"""

import os
import pickle
import sys
import threading
import time

LOOKS = 0.2
"""Seconds between two looks at whether anybody still waits."""


def main() -> None:
    """Answer one call: (module name, function name, arguments)."""
    threading.Thread(target=_end_with, args=(int(sys.argv[1]),), daemon=True).start()
    call = pickle.load(sys.stdin.buffer)
    module, name, arguments, search_path = call
    sys.path[:] = search_path
    function = getattr(__import__(module, fromlist=[name]), name)
    sys.stdout.buffer.write(pickle.dumps(function(*arguments)))


def _end_with(parent: int) -> None:
    """End once the process that waits for the answer is gone."""
    while os.getppid() == parent:
        time.sleep(LOOKS)
    os._exit(1)


if __name__ == "__main__":
    main()

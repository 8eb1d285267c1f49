"""Solves one programme in a process of its own, so that a person can stop it: HiGHS cannot be interrupted.

Run as a file, it reads a pickled call from standard input and writes the pickled answer to standard output. It
imports the solver layer only when asked, by the path it was given.
"""

import pickle
import sys


def main() -> None:
    """Answer one call: (module name, function name, arguments)."""
    call = pickle.load(sys.stdin.buffer)
    module, name, arguments, search_path = call
    sys.path[:] = search_path
    function = getattr(__import__(module, fromlist=[name]), name)
    sys.stdout.buffer.write(pickle.dumps(function(*arguments)))


if __name__ == "__main__":
    main()

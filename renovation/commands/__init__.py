"""The commands of `renovation`, a file each (floor 5), over the same calls as the dashboard.

A command is a module with two functions: `options(parser)` adds what it takes, `do(args, words)` does it and gives
the text to print. The module is read when its command is asked for, and what it works with when it is done: a page of
help loads no solver. A new command is a file here, its name in `COMMANDS`, and its words under `command.<name>`.
"""

COMMANDS = (
    "compare",
    "cash",
    "loan",
    "risk",
    "sensitivity",
    "plan",
    "sheet",
    "report",
    "workbook",
    "season",
    "next",
    "tally",
    "copy",
    "new",
    "check",
    "farms",
    "techniques",
    "schema",
    "words",
    "demo",
)
"""The commands by name, as they are listed: each is the module of that name."""

"""Other names for what has one name on every page, in report, workbook and commands: none of them may be said."""

import re

SHORT = r"money (never )?(runs?|is) short|short of money|money short|cash runs? short"
"""Said of a balance below the floor alone."""
SPENDS_MORE = r"spends? more than (it|they) brings?"
OTHER_NAMES = {
    "a year that spends more than it brings": r"gap years?\b|years? (that )?((does|do) not|pays?) (for|pay)|money gap",
    "the farm as it is": r"(trees|them) as they are|left (alone|as it is)|without (the|a) plan|do(ing)? nothing"
    r"|with the plan (and|or) without|farm without",
    "the ways": r"replanting (from|with|by) (rooted|grafted|air)|planting the (gaps|empty)|planting under the old",
    "the careful plan and the bolder one": r"plan on expected|robust plan|cautious plan|safe plan",
}


def other_names(text, names=tuple(OTHER_NAMES)):
    """The other names that a text says, by what they are said of."""
    spaced = " ".join(text.split())
    found = {of: [m.group() for m in re.finditer(OTHER_NAMES[of], spaced, re.IGNORECASE)] for of in names}
    return {of: said for of, said in found.items() if said}

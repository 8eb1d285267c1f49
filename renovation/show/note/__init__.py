"""The credit note: two pages that a lender decides on."""

from renovation.show.note.page import credit_note, note_of, with_appendix

__all__ = ["credit_note", "note_of", "with_appendix"]

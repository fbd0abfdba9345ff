"""Words for what cannot be shown, and which file would unlock it."""

from pipeline.reports.tables import Note

AGAIN = Note("Not shown either, for the same reason.")


def note(shop, what, *files):
    """Say why something is not shown.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store.
    what : str
        What is not shown, as the start of a sentence.
    *files : str
        Files without which it cannot be, such as ``offers.csv``.

    Returns
    -------
    Note
        Names the files that are missing and what each unlocks; where none is, says that the records hold
        nothing to show.
    """
    absent = [(file, shop.unlocks[file]) for file in files if file in shop.unlocks]
    if not absent:
        return Note(f"{what}: the records hold nothing to show here yet.")
    listed = "; ".join(f"{file} unlocks {unlocks.rstrip('.')}" for file, unlocks in absent)
    return Note(f"{what} cannot be shown yet: {listed}. Add the file to the shop folder and load it again.")


def or_note(frame, make, otherwise):
    """Make a table or chart of a frame, or say why there is none.

    Parameters
    ----------
    frame : pandas.DataFrame
        The rows.
    make : callable
        Takes the frame.
    otherwise : Note
        Shown where the frame has no rows.

    Returns
    -------
    object
        What ``make`` returns, or the note.
    """
    return make(frame) if len(frame) else otherwise

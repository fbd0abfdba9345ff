"""Text for a spreadsheet that stays text: a cell that would run as a formula there is marked as words."""

import unicodedata

_STARTS = "=+-@"
_BREAKS = "\t\r\n"


def harmless(text):
    """Mark a text that a spreadsheet would take for a formula.

    Parameters
    ----------
    text : str
        One cell.

    Returns
    -------
    str
        With an apostrophe before it where it begins, behind blanks and signs that nobody sees, with ``=``, ``+``,
        ``-`` or ``@`` (wide forms too), or with a tab or a line break. Any other text as it is.

    Examples
    --------
    >>> harmless("=1+1"), harmless("  @SUM(A1)"), harmless("lamp, 6 V -"), harmless("")
    ("'=1+1", "'  @SUM(A1)", 'lamp, 6 V -', '')
    """
    first = next((sign for sign in text if unicodedata.category(sign)[0] not in "CZ"), "")
    starts = unicodedata.normalize("NFKC", first)[:1]
    return f"'{text}" if (starts and starts in _STARTS) or text[:1] in tuple(_BREAKS) else text

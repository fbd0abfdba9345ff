"""Numbers as people write them: decimal commas, grouped thousands, more decimals than money is kept with."""

import re
from decimal import ROUND_HALF_UP, Decimal

from pipeline.store.validate import NUMBER

# Three digits behind a comma may be thousands; a leading zero, or another number of digits, may not.
DECIMAL_COMMA = r"[+-]?(\d+,(\d{1,2}|\d{4,})|0?,\d+)"
_GROUPED = r"[+-]?[1-9]\d{0,2}\.\d{3}"


def with_point(texts):
    """Return numbers with a decimal point where they had a decimal comma (pandas.Series of str)."""
    if not any("," in text for text in texts):
        return texts
    return texts.where(~texts.str.fullmatch(DECIMAL_COMMA), texts.str.replace(",", "."))


def rounded(texts, column):
    """Return amounts rounded, half up, to the decimals money is kept with (pandas.Series of str).

    Parameters
    ----------
    texts : pandas.Series of str
    column : pipeline.store.catalogue.Column
        Of a DECIMAL type.
    """
    whole, decimals = map(int, re.findall(r"\d+", column.type))

    def kept(text):
        amount = Decimal(text)
        # Too large for the column: left as it is, to be set aside.
        if amount.adjusted() >= whole - decimals or -amount.as_tuple().exponent <= decimals:
            return text
        short = amount.quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP)
        return text if short == amount else f"{short:f}"

    if not any("e" in text or "E" in text or len(text.partition(".")[2]) > decimals for text in texts):
        return texts
    long = texts.str.fullmatch(NUMBER) & (texts.str.contains("[eE]") | texts.str.contains(rf"\.\d{{{decimals + 1}}}"))
    return texts.where(~long, texts[long].map(kept).reindex(texts.index))


def two_readings(before, after):
    """Return what a number could be where decimal commas beside it make its point a question.

    Parameters
    ----------
    before, after : pandas.Series of str
        A column as typed and mended.

    Returns
    -------
    pandas.Series of str
        By index: "12.500" among numbers as "3,75" may be twelve and a half, or twelve thousand five hundred.
    """
    if not any("," in text for text in before):
        return before.iloc[:0]
    if not before.str.strip().str.fullmatch(DECIMAL_COMMA).any():
        return before.iloc[:0]
    doubtful = after[after.str.fullmatch(_GROUPED) & (before.str.strip() == after)]
    return doubtful.map(lambda text: f"other numbers here have a decimal comma, so this could be {text} or "
                                     f"{text.replace('.', '')}; write it without a point, or all with points")

"""One shop, one currency: its own word beside an amount is dropped, another currency is refused."""

import json
import re
from dataclasses import dataclass

import pandas as pd

from pipeline.store import read

# ISO 4217, the codes in use, from memory; `$` and the like stand for any currency they are written for.
CODES = frozenset(
    "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BGN BHD BIF BMD BND BOB BRL BSD BTN BWP BYN BZD CAD CDF CHF"
    " CLP CNY COP CRC CUP CVE CZK DJF DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GNF GTQ GYD HKD HNL"
    " HTG HUF IDR ILS INR IQD IRR ISK JMD JOD JPY KES KGS KHR KMF KPW KRW KWD KYD KZT LAK LBP LKR LRD LSL LYD MAD"
    " MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD OMR PAB PEN PGK PHP PKR PLN PYG"
    " QAR RON RSD RUB RWF SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TND TOP TRY TTD"
    " TWD TZS UAH UGX USD UYU UZS VES VND VUV WST XAF XCD XOF XPF YER ZAR ZMW".split())
SIGNS = {"€": {"EUR"}, "£": {"GBP", "FKP", "GIP", "SHP", "EGP", "SYP", "LBP"}, "¥": {"JPY", "CNY"},
         "$": {"USD", "AUD", "BBD", "BMD", "BND", "BSD", "BZD", "CAD", "FJD", "GYD", "HKD", "JMD", "KYD", "LRD", "NAD",
               "NZD", "SBD", "SGD", "SRD", "TTD", "TWD", "XCD", "ARS", "CLP", "COP", "DOP", "MXN", "UYU"}}
_WORD, _NUMBER = r"(?P<word>[A-Za-z]{3}|[€£$¥])", r"(?P<number>[\d.,]+)"
_BEFORE = rf"(?P<minus>-?)\s*{_WORD}\s*(?P<inner>-?)\s*{_NUMBER}"
_BEHIND = rf"(?P<minus>-?)\s*{_NUMBER}\s*{_WORD}"


@dataclass(frozen=True)
class Currency:
    """The shop's currency: its code, whether the owner gave it, and what the store's amounts were in if loaded."""

    code: str
    is_given: bool
    before: str | None = None

    @property
    def wanted(self):
        """What an amount must be, in words (str)."""
        told = "" if self.is_given else " (the default; give `currency` in shop.csv if it is another)"
        return f"this shop's amounts are in {self.code}{told}; write the amount in {self.code}, as 12.50"

    def is_own(self, word):
        """True where a code or sign stands for this currency."""
        return word.upper() == self.code or self.code in SIGNS.get(word, ())


def of_shop(connection, tables, is_alone=False):
    """Return the :class:`Currency` of a folder: by its own shop file, else by the store, else the default.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    tables : dict of str to RawTable
    is_alone : bool
        True where the store does not count, as the folder takes its place.
    """
    settings = read.settings(connection)
    before = None if read.is_empty(connection, "loads") else settings.currency.upper()
    if (raw := tables.get("shop")) is not None and "value" in raw.columns:
        given = raw.frame.loc[raw.frame["key"].str.strip().str.lower() == "currency", "value"].str.strip()
        if (given != "").any():
            return Currency(given[given != ""].iloc[0].upper(), True, before)
    if is_alone:
        default = read.rows(connection, "select default_value from shop_keys where key = 'currency'")[0][0]
        return Currency(default, False, before)
    return Currency(settings.currency.upper(), "currency" not in settings.defaulted, before)


def without_own(texts, currency):
    """Return amounts with the shop's own code or sign dropped (pandas.Series of str)."""
    def bare(text):
        found = _split(text)
        is_own = found and currency.is_own(found["word"])
        return (found["minus"] or found.get("inner", "")) + found["number"] if is_own else text
    return texts.map(bare)


def names_other(texts, currency):
    """Return what is wanted (str) for the amounts that name another currency, by their index."""
    def is_other(text):
        found = _split(text)
        return bool(found) and not currency.is_own(found["word"]) and (
            found["word"] in SIGNS or found["word"].upper() in CODES)
    return pd.Series(currency.wanted, index=texts.index[texts.map(is_other).to_numpy(bool)], dtype=object)


def other_in_column(raw, currency):
    """Return the lines and words of a file's own ``currency`` column that name another currency.

    Parameters
    ----------
    raw : pipeline.ingest.read.RawTable
    currency : Currency

    Returns
    -------
    pandas.Series of str
        The word found, by line in the file.
    """
    if "currency" not in raw.extras:
        return pd.Series(dtype=object)
    extra = raw.frame.set_index("file_line")["extra"].dropna()
    words = extra.map(lambda text: json.loads(text).get("currency", "").strip())
    return words[(words != "") & ~words.map(currency.is_own).astype(bool)]


def _split(text):
    found = re.fullmatch(_BEFORE, text) or re.fullmatch(_BEHIND, text)
    return found.groupdict() if found else None

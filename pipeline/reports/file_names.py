"""File names that every system takes, made of whatever somebody is called."""

import re
import unicodedata

MOST_LETTERS = 80
# Names that Windows keeps for its devices, whatever ending stands behind them.
_DEVICES = re.compile(r"(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[0-9\u00b9\u00b2\u00b3])(\.|$)", re.IGNORECASE)
_FORBIDDEN = re.compile(r'[<>:"/\\|?*%]+')


def safe(names):
    """Give each of several names a file name of its own, without an ending.

    Parameters
    ----------
    names : iterable of str
        Names, all different.

    Returns
    -------
    dict of str to str
        By name. No sign that Windows forbids, no name of a device, no blank or full stop at either end, at most
        `MOST_LETTERS` letters; no two that differ in case alone. Where two names would become one, the one that is
        its own file name keeps it, and the others get a number, in alphabetical order.

    Examples
    --------
    >>> safe(["north", "North", "a/b", "a:b", "con", "..."])
    {'...': 'vendor', 'North': 'North', 'a/b': 'a_b', 'a:b': 'a_b-2', 'con': 'con_', 'north': 'north-2'}
    """
    plain = {name: _plain(name) for name in sorted(names)}
    found, owner = {}, {}
    for name, stem in plain.items():
        if stem == name and owner.setdefault(_same(stem), name) == name:
            found[name] = stem
    for name, stem in plain.items():
        if name not in found:
            found[name] = _free(stem, owner)
            owner[_same(found[name])] = name
    return {name: found[name] for name in plain}


def _plain(name):
    text = unicodedata.normalize("NFC", name)
    text = "".join("_" if unicodedata.category(sign)[0] == "C" else sign for sign in text)
    text = re.sub(r"\s+", " ", _FORBIDDEN.sub("_", text))[:MOST_LETTERS].strip(" .")
    device = _DEVICES.match(text)
    if device:
        text = f"{device[1]}_{text[device.end(1):]}"
    return text or "vendor"


def _free(stem, taken):
    number, free = 1, stem
    while _same(free) in taken:
        number += 1
        free = f"{stem}-{number}"
    return free


def _same(stem):
    """What two names share that some system takes for one file."""
    return unicodedata.normalize("NFKD", stem).casefold()

"""A file that takes its name when the work ends well, and goes when it fails."""

import contextlib
import os

from pipeline.errors import RecordsError

MARK = ".unfinished"


class NotNamedError(RecordsError):
    """A file that is whole could not take its name; what it tells of is done."""


@contextlib.contextmanager
def named_at_the_end(final, write, what):
    """Write a file within a ``with`` block; it takes its name when the block ends well, and goes when it fails.

    Parameters
    ----------
    final : pathlib.Path
        Where it stands in the end; its folder is made if missing.
    write : callable
        Takes the path to write to and what the block hands over.
    what : str
        What it is, for the messages: ``list``.

    Yields
    ------
    callable
        Takes what is to be written; a full disk shows there, before anything else is made lasting. Where it is never
        called, nothing is written and a file of that name stays.

    Raises
    ------
    RecordsError
        If the file cannot be written; :class:`NotNamedError` if it cannot take its name. Of two files, one block
        within the other, the other takes its name then all the same: the work itself is done.
    """
    unfinished = final.with_name(final.name + MARK)

    def put(*contents):
        try:
            unfinished.parent.mkdir(parents=True, exist_ok=True)
            write(unfinished, *contents)
        except OSError as error:
            raise RecordsError(f"{unfinished.parent}: the {what} cannot be written ({error.strerror}). "
                               "Nothing was loaded; make room or choose another place with --out DIR.") from None

    try:
        yield put
    except NotNamedError:
        _name(unfinished, final, what)
        raise
    except BaseException:
        with contextlib.suppress(OSError):  # what cannot be taken away is not there, or is said by the error at hand
            unfinished.unlink(missing_ok=True)
        raise
    _name(unfinished, final, what)


def _name(unfinished, final, what):
    if not unfinished.exists():
        return
    try:
        os.replace(unfinished, final)
    except OSError as error:
        raise NotNamedError(f"{final}: cannot be replaced ({error.strerror}); is it open in another program? "
                            f"The records themselves are taken in; their {what} is in {unfinished}.") from None

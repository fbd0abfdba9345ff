"""The exceptions of Sparebench: each message says where, what was found, what was wanted, what to do."""


class SparebenchError(Exception):
    """Anything a user can act on; the command line prints it without a traceback."""

    exit_code = 1


class InvalidParameter(SparebenchError, ValueError):
    """A value outside what a computation accepts; the message names argument, value and allowed set."""


class RecordsError(SparebenchError):
    """The records need the owner's attention before the request can be met."""


class StoreError(SparebenchError):
    """The shop's store cannot be opened, read or written as asked."""


class SetupError(SparebenchError):
    """The private Python environment could not be made."""


class UsageError(SparebenchError):
    """The command was called with words it does not know."""

    exit_code = 2


class Stopped(KeyboardInterrupt):
    """Ctrl-C that had to wait; the message says what was done by then."""

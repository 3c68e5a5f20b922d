"""One tree of errors. A message says what, where, what is allowed and what to do.

``exit_code`` is the code of the command contract: 2 for arguments and file content, 5 for the surroundings.
"""


class RuntrueError(Exception):
    """Base of everything the program raises on purpose."""

    exit_code = 1


class InputError(RuntrueError, ValueError):
    """An argument or the content of a file is not usable."""

    exit_code = 2


class UnknownNameError(InputError, KeyError):
    """A name is not in its table; the message lists the names that are."""

    __str__ = Exception.__str__  # KeyError would print the message in quotes


class RecordingError(InputError):
    """A file is not a usable recording."""


class MissingFileError(InputError, FileNotFoundError):
    """A path does not exist or is not a file."""


class SurroundingsError(RuntrueError, OSError):
    """Disk full, no permission, book locked: nothing wrong with what was asked."""

    exit_code = 5


class CancelledError(RuntrueError):
    """The person stopped the work."""

    exit_code = 130


def unknown_name(what: str, name: str, known: list[str] | tuple[str, ...]) -> UnknownNameError:
    """Return the error for ``name`` not being one of ``known``."""
    return UnknownNameError(f"{what} '{name}' is unknown; known are {', '.join(known)}: choose one of them")

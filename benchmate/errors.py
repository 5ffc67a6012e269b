"""What can go wrong, in a sentence: what is wrong, where, and what would be right."""


class BenchmateError(Exception):
    """Ends a command with a sentence for the person and an exit status, never a traceback."""

    exit_status = 1


class Refusal(BenchmateError):  # noqa: N818 - named as it is said
    """What was asked or written is wrong: a file, a field, an option, a name."""

    exit_status = 2


class Failure(BenchmateError):  # noqa: N818 - named as it is said
    """The bench or the store failed: no bus, no chip, a full disk, a damaged file."""

    exit_status = 1

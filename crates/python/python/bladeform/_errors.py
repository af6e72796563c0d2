"""Exceptions and warnings of the package: each has a short code, which does not change, and one sentence."""


class BladeformError(Exception):
    """Why a call has no result.

    Attributes
    ----------
    code : str
        A short word with hyphens that does not change, such as ``"no-blade"``; docs/definitions.md lists them.
    sentence : str
        What is wrong, and what to do.
    """

    code: str
    sentence: str

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(code, sentence)
        self.code = code
        self.sentence = sentence

    def __str__(self) -> str:
        return f"{self.code}: {self.sentence}"


class OptionError(BladeformError, ValueError):
    """An argument is wrong, or two contradict one another. Codes: ``option``, and for arrays ``array``."""


class InputError(BladeformError):
    """A scan, a table or a file cannot be used. The code is that of the reason."""


class StoppedError(BladeformError):
    """The call was stopped before it was done. The code is ``stopped``."""


class FaultError(BladeformError):
    """A fault in the package itself; please report it."""


class BladeformWarning(UserWarning):
    """A result has something that must be known. ``code`` and ``sentence`` as for :class:`BladeformError`."""

    code: str
    sentence: str

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(code, sentence)
        self.code = code
        self.sentence = sentence

    def __str__(self) -> str:
        return f"{self.code}: {self.sentence}" if self.code else self.sentence

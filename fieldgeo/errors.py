"""The one tree of errors.

Every error a user can cause derives from `FieldgeoError`; the command line turns it into one message and exit code 1.

    FieldgeoError
    ├── InputError (ValueError)      a value that cannot be used: says which, what it was, the rule, the next step
    │   ├── FaultyInputError         an input with faults, all listed in `.problems`
    │   │   ├── OutlineError         an outline that cannot be used
    │   │   ├── LogError             a log of work that cannot be used
    │   │   ├── ShedError            a shed file that cannot be used
    │   │   └── SeasonError          a season file that cannot be used
    │   ├── CrsError                 a coordinate system that is missing, unknown or unfit
    │   └── LayoutError              no layout is possible with these values on this field
    └── FileError (OSError)          a file that cannot be read or written
"""

from __future__ import annotations

from collections.abc import Sequence


class FieldgeoError(Exception):
    """Root of every error this package raises on purpose."""


class InputError(FieldgeoError, ValueError):
    """A value that cannot be used."""


class FaultyInputError(InputError):
    """An input with one or more faults, all reported at once.

    Parameters
    ----------
    summary : str
        What cannot be used, and the next step.
    problems : sequence of str
        One line per fault: where, the value, the rule.
    """

    def __init__(self, summary: str, problems: Sequence[str] = ()) -> None:
        self.summary = summary
        self.problems = tuple(problems)
        super().__init__("\n".join([summary, *(f"  - {problem}" for problem in self.problems)]))


class OutlineError(FaultyInputError):
    """An outline that cannot be used."""


class LogError(FaultyInputError):
    """A log of work that cannot be used."""


class CrsError(InputError):
    """A coordinate system that is missing, unknown or unfit for the purpose."""


class ShedError(FaultyInputError):
    """A shed file that cannot be used."""


class SeasonError(FaultyInputError):
    """A season file that cannot be used."""


class LayoutError(InputError):
    """No layout is possible with these values on this field."""


class FileError(FieldgeoError, OSError):
    """A file that cannot be read or written."""

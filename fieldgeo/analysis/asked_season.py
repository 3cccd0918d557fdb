"""Tools of a season as typed."""

from __future__ import annotations

from fieldgeo.errors import InputError


def read_times(text: str) -> tuple[str, int]:
    """Return the name of a tool and how often it is run, from text such as ``"row cultivator=2"``.

    Parameters
    ----------
    text : str
        Name, an equals sign, and a whole number.

    Raises
    ------
    InputError
        If it is not of that form.

    Examples
    --------
    >>> read_times("row cultivator=2")
    ('row cultivator', 2)
    """
    name, equals, number = text.rpartition("=")
    if not equals or not name.strip() or not number.strip().isdecimal() or len(number.strip()) > 3:
        raise InputError(f"times: got {text!r}. It must be NAME=N, a tool and a whole number, such as planter=2.")
    return name.strip(), int(number)

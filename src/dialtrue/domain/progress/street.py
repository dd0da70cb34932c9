"""The street of an address: what is left without the number of the house."""

from __future__ import annotations


def street_of(address: str) -> str:
    """Return the street, in the words of the address; blank where there is none.

    Parameters
    ----------
    address : str
        One line; what follows the first comma is passed over.

    Returns
    -------
    str
        Words that hold a figure are taken off at the beginning and at the end.

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption: house numbers stand before or after the street; override by the column ``area`` of ``sites``.

    Examples
    --------
    >>> street_of("12 Bobbin Row"), street_of("Bobbin Row 12b, yard"), street_of("3-5 Third Street 2")
    ('Bobbin Row', 'Bobbin Row', 'Third Street')
    """
    words = address.split(",")[0].split()
    while words and any(mark.isdigit() for mark in words[0]) and len(words) > 1:
        words.pop(0)
    while words and any(mark.isdigit() for mark in words[-1]) and len(words) > 1:
        words.pop()
    return " ".join(words)

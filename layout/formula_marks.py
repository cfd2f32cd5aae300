"""Text that a spreadsheet would take for a formula, kept text on the way out and back.

A cell that begins with = + - or @ is run by a spreadsheet as a formula. A tree
called ``=1+1``, or a note that a stranger wrote, must come out of our tables as
the text it is: an apostrophe is put before it, which spreadsheets take as "this
is text". Numbers, signed ones too, stay as they are. `bare` takes off what
`guarded` puts on, so a name goes out and comes back the same.
"""

import re

# Full-width forms count too: some spreadsheets take them for the plain ones.
_FORMULA = re.compile(r"'*[=+\-@\t\r\uff1d\uff0b\uff0d\uff20]")
_NUMBER = re.compile(r"[+-]?([0-9]+([.,][0-9]*)?|[.,][0-9]+)([eE][+-]?[0-9]{1,3})?\s*")


def guarded(text: str) -> str:
    """Put an apostrophe before text that a spreadsheet would run.

    Parameters
    ----------
    text : str
        A cell as it is.

    Returns
    -------
    str
        The cell as it may be written.

    Examples
    --------
    >>> guarded("=SUM(A1)"), guarded("-12.5"), guarded("-by the wall")
    ("'=SUM(A1)", '-12.5', "'-by the wall")
    """
    if _FORMULA.match(text) and not _NUMBER.fullmatch(text):
        return "'" + text
    return text


def bare(text: str) -> str:
    """Take off the apostrophe that `guarded` put on.

    Examples
    --------
    >>> bare("'=SUM(A1)"), bare("'tis"), bare(guarded("'@home"))
    ('=SUM(A1)', "'tis", "'@home")
    """
    return text[1:] if text.startswith("'") and _FORMULA.match(text) else text

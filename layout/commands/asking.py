"""Questions at a terminal: asked on stderr, asked again until the answer can be read."""

import sys
from collections.abc import Callable, Mapping
from typing import TypeVar

from layout.commands.terminal import say
from layout.errors import InputError

T = TypeVar("T")


def at_terminal() -> bool:
    """Say whether there is somebody to ask."""
    return all(
        stream is not None and not stream.closed and stream.isatty()
        for stream in (sys.stdin, sys.stderr)
    )


def ask(lines: list[str], read: Callable[[str], T]) -> T:
    """Ask until the answer can be read.

    Parameters
    ----------
    lines : list of str
        The question.
    read : callable
        Turns an answer into a value, or raises `InputError` saying what would do.

    Returns
    -------
    what `read` gives

    Raises
    ------
    InputError
        If the input ends before an answer.
    """
    say("")
    for line in lines:
        say(line)
    while True:
        print("> ", end="", file=sys.stderr, flush=True)
        try:
            answer = input().strip()
        except KeyboardInterrupt:
            say("")  # what is said next begins a line of its own
            raise
        except EOFError:
            say("")
            raise InputError(
                "the input ended before all was answered; nothing was written"
            ) from None
        if not answer:
            say("That one must be answered.")
            continue
        try:
            return read(answer)
        except InputError as error:
            for line in str(error).splitlines():
                say(line)


def choice_lines(question: str, meanings: Mapping[str, str]) -> list[str]:
    """Write a question and its answers, numbered."""
    wide = max(len(word) for word in meanings)
    return [
        question,
        *(
            f"  {number} {word:{wide}}  {meaning}".rstrip()
            for number, (word, meaning) in enumerate(meanings.items(), start=1)
        ),
    ]


def read_choice(answer: str, words: tuple[str, ...], *, numbers: bool = True) -> str:
    """Read an answer: the word, its number, or a beginning that only one word has.

    Parameters
    ----------
    answer : str
        What was typed.
    words : tuple of str
        The answers there are.
    numbers : bool
        Whether a number in the list will do.

    Returns
    -------
    str
        One of `words`.

    Raises
    ------
    InputError
        If it is none of them.
    """
    plain = answer.strip().lower()
    if plain in words:
        return plain
    if numbers and plain.isdecimal() and 1 <= int(plain) <= len(words):
        return words[int(plain) - 1]
    begun = [word for word in words if word.startswith(plain)] if plain else []
    if numbers and len(begun) == 1:
        return begun[0]
    raise InputError(f'"{answer}" is none of {", ".join(words)}')

"""The sheets a crew takes along on paper, and the one file they are bound in."""

from layout.outputs.crew.book import FILE_NAME, Part, bound, joined, part, parts

__all__ = ["FILE_NAME", "Part", "bound", "joined", "part", "parts"]

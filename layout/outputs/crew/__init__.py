"""The sheets a crew takes along on paper, and the one file they are bound in."""

from layout.outputs.crew.book import FILE_NAME, bound

__all__ = ["FILE_NAME", "bound"]

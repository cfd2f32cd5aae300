"""A written report taken apart as strict XML, for tests that ask what it says."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from xml.etree import ElementTree as ET


@dataclass(frozen=True)
class Table:
    """One table: its heads and its rows, as text."""

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def row(self, first: str) -> dict[str, str]:
        """Give the row that a first cell heads."""
        (found,) = [row for row in self.rows if row[0] == first]
        return dict(zip(self.heads, found, strict=True))


class Page:
    """One page; anything that is not well-formed raises."""

    def __init__(self, html: str) -> None:
        assert html.startswith("<!DOCTYPE html>\n<html")
        self.html = html
        self.root = ET.fromstring(html)

    def part(self, name: str) -> ET.Element:
        """Give the element of an id."""
        (found,) = [e for e in self.root.iter() if e.get("id") == name]
        return found

    def text(self, name: str = "") -> str:
        """Give the words of the page or a part, blanks squeezed."""
        return words(self.part(name) if name else self.body)

    @property
    def body(self) -> ET.Element:
        found = self.root.find("body")
        assert found is not None
        return found

    @property
    def style(self) -> str:
        found = self.root.find("head/style")
        assert found is not None and found.text is not None
        return found.text

    def table(self, caption: str) -> Table:
        """Give the table of a caption."""
        (found,) = [t for t in self.tables() if t.caption == caption]
        return found

    def tables(self) -> Iterator[Table]:
        """Give every table; rows have as many cells as there are heads."""
        for element in self.root.iter("table"):
            heads = tuple(words(th) for th in element.findall("thead/tr/th"))
            rows = tuple(
                tuple(words(cell) for cell in row)
                for part in ("tbody", "tfoot")
                for row in element.findall(f"{part}/tr")
            )
            assert {len(row) for row in rows} <= {len(heads)}
            caption = element.find("caption")
            assert caption is not None
            yield Table(words(caption), heads, rows)


def words(element: ET.Element) -> str:
    """Give an element's text, blanks squeezed."""
    return re.sub(r"\s+", " ", "".join(element.itertext())).strip()

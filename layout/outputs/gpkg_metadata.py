"""What plan.gpkg says of itself as a whole, where programs look that know no table of ours.

It is written as Dublin Core, not in the way GDAL writes its own: a reader with that library
would put a second file beside the plan for it, only by reading.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

from layout.outputs.device.xml_text import put
from layout.outputs.words import say

STANDARD = "http://purl.org/dc/elements/1.1/"
EXTENSION = "http://www.geopackage.org/spec120/#extension_metadata"


def write(file: sqlite3.Connection, about: Mapping[str, str]) -> None:
    """Write the file's metadata, and enter the extension it belongs to.

    Parameters
    ----------
    file : sqlite3.Connection
        A GeoPackage that has the table of extensions and none of metadata.
    about : mapping of str to str
        What the plan was made with.

    Notes
    -----
    Tables and columns: OGC 12-128r14, GeoPackage 1.2, annexes C and F.8. Elements: DCMI,
    Dublin Core Metadata Element Set, version 1.1.
    """
    file.execute(
        "CREATE TABLE gpkg_metadata (id INTEGER CONSTRAINT m_pk PRIMARY KEY ASC NOT NULL, "
        "md_scope TEXT NOT NULL DEFAULT 'dataset', md_standard_uri TEXT NOT NULL, "
        "mime_type TEXT NOT NULL DEFAULT 'text/xml', metadata TEXT NOT NULL DEFAULT '')"
    )
    file.execute(
        "CREATE TABLE gpkg_metadata_reference (reference_scope TEXT NOT NULL, table_name TEXT, "
        "column_name TEXT, row_id_value INTEGER, "
        "timestamp DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')), "
        "md_file_id INTEGER NOT NULL, md_parent_id INTEGER, "
        "CONSTRAINT crmr_mfi_fk FOREIGN KEY (md_file_id) REFERENCES gpkg_metadata(id), "
        "CONSTRAINT crmr_mpi_fk FOREIGN KEY (md_parent_id) REFERENCES gpkg_metadata(id))"
    )
    file.executemany(
        "INSERT INTO gpkg_extensions (table_name, extension_name, definition, scope) "
        "VALUES (?, 'gpkg_metadata', ?, 'read-write')",
        [(table, EXTENSION) for table in ("gpkg_metadata", "gpkg_metadata_reference")],
    )
    file.execute(
        "INSERT INTO gpkg_metadata VALUES (1, 'dataset', ?, 'text/xml', ?)",
        (STANDARD, _core(about)),
    )
    file.execute(
        "INSERT INTO gpkg_metadata_reference (reference_scope, md_file_id) VALUES ('geopackage', 1)"
    )


def _core(about: Mapping[str, str]) -> str:
    """Write title, date and number of a plan, and each fact of it as a line of description."""
    root = Element("metadata", {"xmlns:dc": STANDARD})
    put(root, "dc:title", say("device_title", area=about.get("area", "")))
    for name, key in (("date", "made"), ("identifier", "plan_sha256")):
        if key in about:
            put(root, f"dc:{name}", about[key])
    for key, value in sorted(about.items()):
        put(root, "dc:description", f"{key}: {value}")
    ElementTree.indent(root, space=" ")
    return ElementTree.tostring(root, encoding="unicode")

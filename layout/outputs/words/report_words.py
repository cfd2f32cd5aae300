"""Words of the report."""

from collections.abc import Mapping

REPORT: Mapping[str, str] = {}

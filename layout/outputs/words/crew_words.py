"""Words of the crew sheets on paper."""

from collections.abc import Mapping

CREW: Mapping[str, str] = {}

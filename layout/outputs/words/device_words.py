"""Words of the files for a phone or receiver."""

from collections.abc import Mapping

DEVICE: Mapping[str, str] = {}

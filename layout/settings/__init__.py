"""Typed settings of area.toml: each number with unit, bounds, default and source."""

from layout.settings.ground_tables import LonLat
from layout.settings.limits import Limits, limits_in_force
from layout.settings.loading import load_settings
from layout.settings.model import AreaSettings

__all__ = ["AreaSettings", "Limits", "LonLat", "limits_in_force", "load_settings"]

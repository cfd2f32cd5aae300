"""What a plan is written as: GeoPackage, data, tree table, picture and words."""

from layout.outputs.extras import Extras
from layout.outputs.summary import closing
from layout.outputs.swap import ready
from layout.outputs.write import sheets_beside, write_plan

__all__ = ["Extras", "closing", "ready", "sheets_beside", "write_plan"]

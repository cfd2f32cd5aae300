"""report.html: what the plan says, for the owner and whoever advises them."""

from layout.outputs.report.page import FILE_NAME as FILE_NAME
from layout.outputs.report.page import write as write

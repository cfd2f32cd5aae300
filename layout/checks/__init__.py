"""Any layout against its ground: findings from geometry, elevations and limits alone.

Drawn and routed trails are judged by the same code, and nothing a search knew
comes in: every line is read again at 1 m stations. A draft that breaks rules is
no error, it gets findings; nothing here calls a thing safe.
"""

from layout.checks.layout import check_layout
from layout.checks.treatment import check_treatment

__all__ = ["check_layout", "check_treatment"]

"""Practice plans: numbers from the book's doses, computed for one climber.

Pure functions over frozen models. Nothing here reads a clock, a file or a record.
"""

from .choose import plan_for
from .model import Plan
from .render import render

__all__ = ["Plan", "plan_for", "render"]

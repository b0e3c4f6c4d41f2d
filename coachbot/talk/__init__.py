"""The conversation: what each message does, what stands after it, and what is said."""

from .card import Card
from .state import State
from .talk import Talk, TurnOut

__all__ = ["Card", "State", "Talk", "TurnOut"]

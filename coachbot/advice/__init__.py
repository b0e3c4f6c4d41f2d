"""From a case to ranked, explained advice and the next question."""

from .coach import Coach
from .model import Advice, Ask, Suggested, Understood

__all__ = ["Advice", "Ask", "Coach", "Suggested", "Understood"]

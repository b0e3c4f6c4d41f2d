"""Free text to facts: what a climber said, in the vocabulary of the rule book."""

from .reader import Reader
from .reading import Ambiguity, Heard, Reading, Span

__all__ = ["Ambiguity", "Heard", "Reader", "Reading", "Span"]

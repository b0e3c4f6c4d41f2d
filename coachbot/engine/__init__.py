"""Forward chaining over facts: rules with conditions in, firings with their reasons out."""

from coachbot.engine.model import (
    All,
    Any,
    Case,
    Condition,
    Conflict,
    EngineRule,
    Firing,
    Matched,
    Op,
    RuleSetError,
    Run,
    Test,
    Value,
)
from coachbot.engine.network import Network
from coachbot.engine.parts import EngineError

__all__ = [
    "All",
    "Any",
    "Case",
    "Condition",
    "Conflict",
    "EngineError",
    "EngineRule",
    "Firing",
    "Matched",
    "Network",
    "Op",
    "RuleSetError",
    "Run",
    "Test",
    "Value",
]

"""coachbot: an offline bouldering coach over a forward-chaining rules engine."""

__version__ = "0.1.0"

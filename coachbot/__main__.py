"""``python -m coachbot``."""

from coachbot.doors.commands import main

main()

"""Staff study: cases drawn from the rules, marked against the rules' own advice."""

"""From a file that came back to one Attempt, and which file counts."""

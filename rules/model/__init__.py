"""The records of a rulebook."""

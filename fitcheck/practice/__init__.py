"""Practice of the eye: drawings whose measure is known, answered by the words used at work."""

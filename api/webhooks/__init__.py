"""Events sent to subscribers."""

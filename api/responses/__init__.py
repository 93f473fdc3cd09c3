"""The shapes of answers that only the service gives."""

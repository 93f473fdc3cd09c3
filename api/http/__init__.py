"""What every request has in common: who is let in, how bodies are read, how failures are answered."""

"""One migration each."""

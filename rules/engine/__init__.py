"""The rules of a book run over one foot: compiled to durable-rules, evaluated, and checked by plain arithmetic."""

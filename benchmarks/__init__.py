"""What the tool costs, against what somebody would use instead: ``python -m benchmarks``."""

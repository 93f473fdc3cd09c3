"""The self-check page at /: one foot at a time, on a telephone, also without a signal."""

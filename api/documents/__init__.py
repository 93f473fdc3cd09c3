"""What is written for contributors and readers from the running program: examples of answers, the table of fields."""

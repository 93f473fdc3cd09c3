"""Which rulebook judges, and books held against each other and against examples."""

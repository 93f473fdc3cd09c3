"""A fitting as clients send it: strict JSON, the models, their validation, and the readings that follow."""

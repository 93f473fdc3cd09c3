"""A rulebook out of its TOML files, strictly: each fault is an error that names file and key."""

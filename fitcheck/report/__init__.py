"""Assessments for people to read."""

"""Accuracy and cost against the goals: renders with exact truth, judged and compared. ``python -m bench --help``."""

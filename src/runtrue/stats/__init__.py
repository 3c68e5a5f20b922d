"""Uncertainty and decision."""

"""Limits that ship with the program: one TOML file per published standard, and one invented house file as a pattern."""

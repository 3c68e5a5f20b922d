"""The papers of the plant as actions: each is filled in by a command, a form or a row of a CSV, and enters the book."""

"""Copies of one side laid over one another: where a fault that recurs could have been made, and since when."""

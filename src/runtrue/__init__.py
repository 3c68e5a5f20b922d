"""runtrue: every judgement in a pressing plant as a number, a decision and a record that stays."""

__version__ = "0.1.0"

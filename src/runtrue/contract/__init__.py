"""Results as printed, in shown units."""

from runtrue.contract.listening import SCHEMA, Listening, Traces

__all__ = ["SCHEMA", "Listening", "Traces"]

"""The listening test: a capture against its reference."""

from runtrue.listen.engine import hear

__all__ = ["hear"]

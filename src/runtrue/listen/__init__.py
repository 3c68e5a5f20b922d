"""The listening test: a capture against its reference."""

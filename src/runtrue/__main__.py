"""``python -m runtrue`` is ``runtrue``."""

from runtrue.cli import main

if __name__ == "__main__":
    main()

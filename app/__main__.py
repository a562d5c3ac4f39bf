"""`python -m app` is the console script."""

import multiprocessing
import sys

from app.cli import main

if __name__ == "__main__":
    multiprocessing.freeze_support()
    sys.exit(main())

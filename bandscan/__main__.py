"""`python -m bandscan` is the command line."""

import sys

from bandscan.cli import main

if __name__ == "__main__":
    sys.exit(main())

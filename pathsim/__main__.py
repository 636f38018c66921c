"""``python -m pathsim`` is the same as ``pathsim``."""

import sys

from pathsim.cli.main import main

if __name__ == "__main__":
    sys.exit(main())

"""`python -m reefguard` is the same program as `reefguard`."""

from reefguard.cli import main

if __name__ == "__main__":
    main()

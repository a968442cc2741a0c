"""`python -m siting` is the command `siting`."""

from siting.cli import main

if __name__ == "__main__":
    main()

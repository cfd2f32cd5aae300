"""Run the command as ``python -m layout``."""

from layout.commands import console

if __name__ == "__main__":
    console()

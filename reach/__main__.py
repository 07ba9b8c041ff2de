"""`python -m reach` is the command `reach`."""

from reach.cli import main

if __name__ == "__main__":
    main()

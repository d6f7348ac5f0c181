"""`python -m fencegis`."""

from fencegis.cli import main

if __name__ == "__main__":
    main()

"""``python -m colormatch`` does as the command ``colormatch``."""

from colormatch.cli.main import main

if __name__ == "__main__":
    main()

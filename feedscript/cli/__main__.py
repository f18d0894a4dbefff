"""``python -m feedscript.cli``: the command line without an installed script."""

from feedscript.cli import main

if __name__ == "__main__":
    main()

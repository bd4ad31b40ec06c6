"""Start the command line; stopping it is clean even while it is still loading."""

import sys

__all__ = ["main"]


def main() -> None:
    """Run the `firstwash` command."""
    try:
        from firstwash.cli import main as run

        run()
    except KeyboardInterrupt:
        sys.stderr.write("Stopped; nothing was left half written.\n")
        sys.exit(130)


if __name__ == "__main__":
    main()

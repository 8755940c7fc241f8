"""``python -m towzone`` is the same as ``towzone``."""

from towzone.cli import run

if __name__ == "__main__":
    run()

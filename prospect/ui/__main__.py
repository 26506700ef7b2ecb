"""`python -m prospect.ui GROUND [--port N]`: serves the app on this machine until it is stopped."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from prospect.ui.open_ground import GROUND_VARIABLE


def main() -> None:
    """Read the arguments and serve."""
    parser = argparse.ArgumentParser(prog="claywalk app", description="Serves the app on this machine.")
    parser.add_argument("ground", nargs="?", type=Path, default=None, help="folder of the ground")
    parser.add_argument("--port", type=int, default=8501, help="port on this machine")
    asked = parser.parse_args()
    if asked.ground is not None:
        os.environ[GROUND_VARIABLE] = str(asked.ground.resolve())
    sys.argv = sys.argv[:1]
    import streamlit as st  # heavy, and the ground must be named before the routes are made

    from prospect.ui.serving import app_parts, server_settings

    st.App(**app_parts()).run(config=server_settings(asked.port))


if __name__ == "__main__":
    main()

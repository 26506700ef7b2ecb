"""The app as a server can load it: `streamlit run prospect/ui/launch.py`."""

import streamlit as st

from prospect.ui.serving import app_parts, server_settings

app = st.App(**app_parts())

if __name__ == "__main__":
    app.run(config=server_settings())

"""Starts the app: `streamlit run app.py -- GROUND`, or `python app.py GROUND`."""

import streamlit as st

from prospect.ui.serving import app_parts, server_settings

app = st.App(**app_parts())

if __name__ == "__main__":
    app.run(config=server_settings())

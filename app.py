"""Starts the app."""

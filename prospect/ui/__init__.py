"""Screens that ask and show; the work is done in the levels below."""

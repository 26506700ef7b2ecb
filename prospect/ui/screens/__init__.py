"""One module per screen, each with a `screen` that draws it."""

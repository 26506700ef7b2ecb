"""One foreign format each, read into clean data in our names, with every problem said."""

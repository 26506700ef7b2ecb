"""Reads a map's wording as open lithology terms, and says what clay such rock weathers to."""

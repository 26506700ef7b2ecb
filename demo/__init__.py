"""The invented ground: a valley that lies in no land, made from one number and read like any other data."""

"""The demo scenario: invented data, entered through the same door as real data."""

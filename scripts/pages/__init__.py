"""The generated pages of the manual, one module each with a function `text() -> str`."""

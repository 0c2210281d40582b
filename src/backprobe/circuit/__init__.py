"""The book as an electrical network: assembled, factorised per state, settled with history."""

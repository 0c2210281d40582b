"""The wiring book: text in, checked frozen objects out, text out; situations."""

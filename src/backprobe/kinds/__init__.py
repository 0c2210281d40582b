"""What the kinds of part are made of: pure records that the rooms above interpret."""

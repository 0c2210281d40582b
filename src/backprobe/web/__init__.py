"""The job sheet in a browser. Draws what the shop says and decides nothing."""

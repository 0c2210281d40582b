"""The command line. Prints what the shop says and decides nothing."""

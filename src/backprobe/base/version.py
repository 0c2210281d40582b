"""The version of the tool. It stands in the lowest room so that every room may say it."""

VERSION = "0.1.0.dev0"

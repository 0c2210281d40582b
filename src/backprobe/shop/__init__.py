"""The use cases both faces share; the only place where engine and outside world meet."""

"""The HTTP service over fitcheck: routes, problem details, the reference.  Import :mod:`api.application` to run it."""

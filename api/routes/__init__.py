"""One resource a module: its address, its documentation and its answer."""

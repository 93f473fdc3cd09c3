"""One fitting assessed: readings and firings to findings, what is missing, and what to do in order."""

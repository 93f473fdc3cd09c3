"""Query parameters and headers, read strictly and documented."""

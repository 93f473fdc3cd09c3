"""The OpenAPI document, its schemas and examples, and the reference page."""

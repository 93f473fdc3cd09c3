"""What is made of kept records for whoever looks over the work: drawings, reports, overrides, marks, agreement."""

from api.desk.routes import add_desk

__all__ = ["add_desk"]

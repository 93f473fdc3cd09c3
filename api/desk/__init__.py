"""What is made of kept records for whoever looks over the work: drawings, reports, overrides, marks, agreement."""

"""What is made of kept records for those who review the work: drawings, reports, overrides, marks, agreement."""

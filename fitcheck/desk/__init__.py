"""What is made of kept records at the desk: a foot as it was kept, sheets of marks, progress, agreement.

Nothing here assesses anew: decisions and findings are those that were answered when a foot was assessed.
"""

from fitcheck.desk.kept_foot import KeptFoot, Unreadable, foot_of

__all__ = ["KeptFoot", "Unreadable", "foot_of"]

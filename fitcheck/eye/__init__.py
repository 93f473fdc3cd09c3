"""How good an eye is: a person's words held against what was measured, and what that makes of a word in an assessment.

::

    scales          the words of each quantity in their order, the figures that are taken for known
    pairs           from kept records, a word and a measure of one thing in one state
    ordered_probit  where words begin and end, shift and spread, with their intervals
"""

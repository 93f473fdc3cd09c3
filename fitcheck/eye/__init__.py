"""How good an eye is: a person's words held against what was measured, and what that makes of a word in an assessment.

::

    pairs           from kept records, a word and a measure of one thing in one state
    likelihood      of words beside measures; ``model`` finds where it is greatest, ``horses`` how sure that is
    ordered_probit  where words begin and end, shift and spread, with their intervals
    chance          what a word is worth: how likely the true measure lies where it puts it
    known           the figures that are taken for known of every eye
    eye             all of it of one person, as ``models`` have it, in ``sentences``; ``curve_plot`` draws it
    stated          the chance of each finding of an assessment that rests on a word
"""

"""Colors and hatches of the charts.

Each color stands out from white by at least 3:1 (contrast ratio of WCAG 2.2, success criterion 1.4.11), and
any two differ by at least 30 (CIE 1976 L*a*b*) for full color vision and as people without red or green cones
see them (Machado, Oliveira, Fernandes 2009). Hatches say the same once more, in print without color too.
"""

COLORS = ("#19465c", "#4291bf", "#898a26", "#6133b0", "#22a18d", "#464b1a")
HATCHES = ("", "/", "\\", "|", "x", "-")
"""Lines in white, drawn by `hatch`."""
INK = "#1d2733"
QUIET = "#4a5561"
RULE = "#d5dae0"
"""Text and marks; text beside the point; lines of the grid, which say nothing that ticks do not say."""

"""Options side by side on one page: `compare.html` and `compare.pdf`, and what changed from the first."""

LEAST, MOST = 2, 6  # options that fit on one page

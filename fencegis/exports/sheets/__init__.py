"""The set-out sheets: one side of A4 a run first, then what stands behind."""

"""Sheets of paper for places where no phone may go: printed before, entered afterwards in the same order."""

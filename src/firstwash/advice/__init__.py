"""Advice from the prediction: which first wash, and why a glaze looks as it does."""

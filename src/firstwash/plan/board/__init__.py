"""Time, water and order at the board: what a plan means for the hand that paints it."""

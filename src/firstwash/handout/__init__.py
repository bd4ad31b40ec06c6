"""What a painter takes to the board: pictures and pages made from a plan, as bytes."""

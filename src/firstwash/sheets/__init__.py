"""Printed sheets: what a painter lays beside the board, and a teacher hands out."""

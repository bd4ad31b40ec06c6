"""What goes into a lesson pack besides its pages: words, tables, pictures for a screen, one zip."""

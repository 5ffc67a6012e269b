"""What is shown on paper, as a picture or as a table: composed, drawn, written."""

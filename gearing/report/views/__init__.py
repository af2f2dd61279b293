"""What the page and the terminal say: results turned into finished strings."""

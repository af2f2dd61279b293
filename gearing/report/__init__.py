"""The page: charts, words and template. Reads finished results and computes nothing."""

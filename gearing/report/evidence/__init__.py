"""The sections behind the answers: charts and tables, folded until they are asked for."""

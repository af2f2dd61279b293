"""Raw files to clean samples, and the ledger of what was set aside."""

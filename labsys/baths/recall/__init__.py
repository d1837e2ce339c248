"""What a lot or a bath went into, both ways by the ledger, and telling people of what was doubtful."""

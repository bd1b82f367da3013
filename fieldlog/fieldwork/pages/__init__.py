"""What the pages say, put together for the sheets to draw; the ledger of what was issued."""

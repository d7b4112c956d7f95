"""What is written of prices, each in one transaction. It writes no stock."""

"""What stands above each list: filters, by subject."""

"""What each machine's clock did."""

"""Looking at zone files themselves: what is in them, what is wrong with them, what changed."""

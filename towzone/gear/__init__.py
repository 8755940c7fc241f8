"""The gear on the sea bed: where doors, clump and net are behind a vessel, and how surely."""

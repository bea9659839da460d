"""The real network: asks what the plan says is there, gently, and changes nothing."""

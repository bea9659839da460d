"""Use-cases: what a user asks for, one a file. The only place that joins store, rules, plan and render."""

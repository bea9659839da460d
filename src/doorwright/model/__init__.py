"""What a site is made of: immutable parts, the changes between two sites, and the way around one."""

"""A line to other machines: UDP sockets on the event loop, and whatever speaks without sockets put on one."""

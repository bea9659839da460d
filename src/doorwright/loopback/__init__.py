"""The rehearsed building on this machine's own loopback addresses, in real time: real peers and probes meet it."""

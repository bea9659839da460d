"""The session protocol of door stations without input or output: bytes and time go in, bytes and events come out."""

"""The web application: everything the commands do, for people at a browser. It runs on the laptop, without internet."""

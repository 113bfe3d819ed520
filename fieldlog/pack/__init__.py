"""The pack: what a phone takes along that only the server can derive."""

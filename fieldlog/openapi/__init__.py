"""The OpenAPI document: what can be asked of the server, gathered from the routes that answer it."""

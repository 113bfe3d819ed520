"""The command line, a module a group of commands; `__main__` loads a module when one of its commands is called."""

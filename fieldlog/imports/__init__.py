"""Spreadsheets that come in: read in a child process, understood by a lead, tried, taken in one step and taken back as one."""

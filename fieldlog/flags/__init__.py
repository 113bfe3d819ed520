"""What someone should look at: one function a rule, each with a sentence and its evidence."""

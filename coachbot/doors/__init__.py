"""The front doors: commands, the chat, one-shot advice and the JSON Lines interface."""

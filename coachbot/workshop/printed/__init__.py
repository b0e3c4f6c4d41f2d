"""The rule set as a book: linked pages, a PDF, and pictures of how facts lead to advice."""

"""What may be asked of a device: the shape of a question, and the sentences in which promises are written."""

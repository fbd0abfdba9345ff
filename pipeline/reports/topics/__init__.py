"""One module per page: the frames it shows, in reading order, and the sentence that answers its question."""

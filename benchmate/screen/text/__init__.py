"""The stream as text: lines, sentences to be spoken, what a job came to."""

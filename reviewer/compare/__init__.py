"""Hold what was read against what a fair grader wrote: annotated notes and the figures over them."""

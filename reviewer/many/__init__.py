"""Many notes graded at once: heard and read side by side, stored by one process alone.

`grade_many` takes the notes and a set of `Hands` that do the hearing and reading: this process (`Here`),
processes of this machine (`Crew`) or a Dask cluster (`Cluster`). What is in the grade book is not done
again; what was heard is kept with the transcripts. So the same call goes on after any end.
"""

from reviewer.many.crew import Crew
from reviewer.many.grade import FileReport, Totals, grade_many, hands_for
from reviewer.many.work import Hands, Here

__all__ = ["Crew", "FileReport", "Hands", "Here", "Totals", "grade_many", "hands_for"]

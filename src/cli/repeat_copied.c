/* repeat_copied.c: rows of a recording that are no touches of their own: named, kept. */
#include "repeat_parts.h"

static unsigned line_of(const tw_repeat_job *j, size_t k)
{
  return (unsigned)j->in.table->line[j->row[k]];
}

/* two rows with the same time and reading */
static void note_same_times(tw_repeat_job *j)
{
  const double *time = tw_recording_number(&j->in, REPEAT_TIME);
  for (size_t k = 1; time && k < j->n; k++) {
    if (time[j->row[k]] == time[j->row[k - 1]] && j->reading[k] == j->reading[k - 1]) {
      tw_record_note(
          j->record,
          "lines %u and %u have the same time and reading: recorded twice? both are kept",
          line_of(j, k - 1), line_of(j, k));
      return;
    }
  }
}

static tw_status note_closing_mean(tw_repeat_job *j, tw_fault *fault)
{
  const tw_column_unit *unit = &j->in.table->unit[j->in.at[REPEAT_READING]];
  double *shown = tw_alloc(j->n, sizeof *shown);
  if (!shown) {
    return tw_fail(fault, TW_NO_MEMORY, "", "use fewer readings", "out of memory");
  }
  for (size_t k = 0; k < j->n; k++) {
    shown[k] = j->reading[k] * unit->over / unit->times;
  }
  if (tw_closes_with_mean(shown, j->n)) {
    tw_record_note(j->record,
                   "line %u is the mean of the lines before it: a row of averages? it is kept",
                   line_of(j, j->n - 1));
  }
  tw_free(shown);
  return TW_OK;
}

tw_status tw_repeat_add_copies(tw_repeat_job *j, tw_fault *fault)
{
  tw_repeated_run r;
  tw_repeated_run_of(j->reading, j->n, &r);
  if (r.found) {
    tw_record_note(
        j->record,
        "lines %u to %u repeat lines %u to %u to the last digit: recorded twice? all are kept",
        line_of(j, r.again), line_of(j, r.again + r.length - 1), line_of(j, r.first),
        line_of(j, r.first + r.length - 1));
  }
  note_same_times(j);
  return note_closing_mean(j, fault);
}

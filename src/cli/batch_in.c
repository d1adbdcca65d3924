/* batch_in.c: a design read as a batch. */
#include "batch_in.h"

#include <stdlib.h>

#define BUILDS 200

bool tw_cli_share(const tw_cli *cli, const char *option, double *share)
{
  const char *text = tw_cli_text(cli, option, NULL);
  char *end = NULL;
  if (!text) {
    return true;
  }
  double value = strtod(text, &end);
  if (*end == '%') {
    value /= 100;
    end++;
  }
  if (end == text || *end || !(value >= 0 && value <= 1)) {
    tw_cli_usage(cli, "--%s: \"%s\" is no share such as 0.9 or 90%%", option, text);
    return false;
  }
  *share = value;
  return true;
}

/* the builds that say which requirement is missed how often */
static tw_exit count_builds(tw_cli_batch *b, long builds)
{
  tw_fault fault = {0};
  tw_study *study = b->s.study;
  if (study->goals == 0) {
    return TW_EXIT_DONE;
  }
  const tw_status status = tw_run_builds(study, (size_t)builds, &b->s.progress, &b->builds, &fault);
  if (status != TW_OK) {
    return status == TW_CANCELLED ? TW_EXIT_INTERRUPTED : tw_cli_fault(b->s.cli, &fault);
  }
  b->basis.builds = b->builds->count;
  for (size_t i = 0; i < b->builds->count; i++) {
    b->basis.good += tw_goals_margin(study->goal, study->goals, &b->builds->y[i * study->outputs],
                                     &b->builds->outcome[i * study->outputs], NULL) >= 0;
  }
  return TW_EXIT_DONE;
}

tw_exit tw_cli_batch_open(tw_cli *cli, tw_cli_batch *b)
{
  long good = 10, builds = BUILDS, made = 0;
  double sure = 0.95, share = 1;
  if (!tw_cli_count(cli, "good", 1, 1000, &good) ||
      !tw_cli_count(cli, "builds", 20, 1000000, &builds) ||
      !tw_cli_count(cli, "made", 0, 100000, &made) || !tw_cli_share(cli, "sure", &sure) ||
      !tw_cli_share(cli, "share", &share)) {
    return TW_EXIT_USAGE;
  }
  if (!(sure > 0 && sure < 1)) {
    return tw_cli_usage(cli, "--sure: a chance between 0 and 100 %% is wanted, such as 95%%");
  }
  tw_exit code = tw_cli_study_open(cli, cli->operand[0], &b->s);
  b->basis.stated = tw_cli_has(cli, "share");
  if (code == TW_EXIT_DONE && !b->basis.stated) {
    code = count_builds(b, builds);
  }
  if (code != TW_EXIT_DONE) {
    return code;
  }
  const tw_batch_ask ask = {.good = (int)good,
                            .sure = sure,
                            .made = (int)made,
                            .study = b->s.study,
                            .builds = b->builds,
                            .has_share = b->basis.stated,
                            .share = share};
  tw_fault fault = {0};
  return tw_batch_make(b->s.design, &ask, &b->batch, &fault) == TW_OK ? TW_EXIT_DONE
                                                                      : tw_cli_fault(cli, &fault);
}

void tw_cli_batch_close(tw_cli_batch *b)
{
  tw_free(b->batch);
  tw_builds_free(b->builds);
  tw_cli_study_close(&b->s);
}

void tw_cli_batch_head(FILE *out, const json_t *d)
{
  const json_t *from = json_object_get(d, "requirements");
  fprintf(out, "%.0f good units, %.4g %% sure: start %.0f.\n", tw_number_of(d, "good"),
          100 * tw_number_of(d, "sure"), tw_number_of(d, "starts"));
  fprintf(out, "%.1f %% of the units that start come out good", 100 * tw_number_of(d, "share"));
  if (json_is_number(json_object_get(from, "builds"))) {
    fprintf(out, "; %.0f of %.0f builds meet\nevery requirement (%.0f .. %.0f %%)",
            tw_number_of(from, "good"), tw_number_of(from, "builds"),
            100 * tw_number_of(from, "low"), 100 * tw_number_of(from, "high"));
  }
  fprintf(out, ".\n");
}

void tw_cli_batch_idle(FILE *out, const json_t *document)
{
  const json_t *list = json_object_get(document, "parts_without_step");
  for (size_t i = 0; i < json_array_size(list); i++) {
    fprintf(out, "%s%s", i ? ", " : "\nNo step takes these parts, so they cost nothing here: ",
            json_string_value(json_array_get(list, i)));
  }
  fprintf(out, "%s", json_array_size(list) ? " (steps.NAME.parts).\n" : "");
}

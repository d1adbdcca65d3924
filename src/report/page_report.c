/* page_report.c: every view of a design at once, as the report shows them. */
#include "page_values.h"

#include <string.h>

/* Every name that studies are asked for by is one, and no comparison: a report has one design. */
static tw_status known_studies(const json_t *studies, tw_fault *fault)
{
  const char *name;
  json_t *ask;
  json_object_foreach((json_t *)(uintptr_t)studies, name, ask)
  {
    (void)ask;
    if (!tw_page_is_study(name) || strcmp(name, "compare") == 0 || strcmp(name, "suspect") == 0) {
      return tw_fail(fault, TW_BAD_INPUT, "with", "there are spread, drivers, remedy and vary",
                     "a report holds no study named \"%.40s\"", name);
    }
  }
  return TW_OK;
}

/* what was asked of a study in a report stands beside its figures */
static tw_status one_view(const char *name, const tw_design *design, const tw_page_options *options,
                          json_t **view, tw_fault *why)
{
  tw_page_options own = *options;
  own.ask = json_object_get(options->ask, name);
  const tw_status status = tw_page_view(name, design, &own, view, why);
  if (status == TW_OK && own.ask) {
    json_object_set(*view, "asked", (json_t *)(uintptr_t)own.ask);
  }
  return status;
}

static tw_status all_views(const tw_design *design, const tw_page_options *options, json_t *into,
                           tw_fault *fault)
{
  const tw_status known = known_studies(options->ask, fault);
  if (known != TW_OK) {
    return known;
  }
  for (size_t i = 0; i < tw_page_view_count(); i++) {
    const char *name = tw_page_view_name(i);
    json_t *view = NULL;
    tw_fault why = {0};
    if (tw_page_is_study(name) && !json_object_get(options->ask, name)) {
      continue; /* a study that nobody asked for */
    }
    const tw_status status = one_view(name, design, options, &view, &why);
    if (status == TW_OK) {
      json_object_set_new(into, name, view);
    } else if ((status != TW_BAD_INPUT && status != TW_NO_ANSWER) ||
               strncmp(why.field, "study.", 6) == 0) {
      /* a wrong option is the asker's to mend, not for the reader of the report */
      json_decref(view);
      if (fault) {
        *fault = why;
      }
      return status;
    } else {
      json_object_set_new(into, name, json_pack("{s:s}", "missing", why.text));
    }
  }
  return TW_OK;
}

tw_status tw_page_report(const tw_design *design, const char *file, const char *fingerprint,
                         const char *date, const tw_page_options *options, tw_messages *messages,
                         json_t **out, tw_fault *fault)
{
  char day[16];
  json_t *evaluate = NULL, *all = json_object();
  tw_page_options dated = *options;
  dated.drawing.date = date ? date : tw_page_today(day);
  tw_status status = tw_page_evaluate(design, true, &dated, messages, &evaluate, fault);
  if (status == TW_OK) {
    status = all_views(design, options, all, fault);
  }
  if (status != TW_OK) {
    json_decref(evaluate);
    json_decref(all);
    return status;
  }
  *out = json_pack("{s:o, s:o, s:o}", "design",
                   tw_page_design(design, file, fingerprint, date, options->units,
                                  options->drawing.system, messages),
                   "evaluate", evaluate, "views", all);
  return *out ? TW_OK : tw_page_no_memory(fault);
}

/* json_winback.c: what adjusting at assembly, or pairing before it, wins back. */
#include "tripwright/documents_study.h"

static json_t *result(const tw_winback *w)
{
  double low = 0, high = 1;
  if (w->builds > 0) {
    tw_yield_interval(w->good, w->builds, 0.95, &low, &high);
  }
  return json_pack("{s:I, s:I, s:o, s:f, s:f, s:I}", "good", (json_int_t)w->good, "builds",
                   (json_int_t)w->builds, "share",
                   w->builds ? json_real((double)w->good / (double)w->builds) : json_null(), "low",
                   low, "high", high, "evaluations", (json_int_t)w->evaluations);
}

static json_t *move(const tw_study *study, const tw_adjustment *a, double by)
{
  return tw_json_input(study, a->input, by);
}

json_t *tw_json_winback(const tw_study *study, const tw_adjustment *adjustment,
                        const tw_winback *alone, size_t count, const tw_winback *together)
{
  json_t *list = json_array();
  for (size_t k = 0; k < count; k++) {
    const tw_adjustment *a = &adjustment[k];
    json_t *one = result(&alone[k]);
    json_object_set_new(one, "unknown", json_integer((json_int_t)alone[k].unknown));
    json_object_set_new(one, "name", json_string(a->name));
    json_object_set_new(one, "field", json_string(study->input[a->input].path));
    json_object_set_new(one, "down", move(study, a, a->down));
    json_object_set_new(one, "up", move(study, a, a->up));
    json_object_set_new(one, "step", move(study, a, a->step));
    json_object_set_new(one, "lowest",
                        alone[k].used ? move(study, a, alone[k].lowest) : json_null());
    json_object_set_new(one, "highest",
                        alone[k].used ? move(study, a, alone[k].highest) : json_null());
    json_array_append_new(list, one);
  }
  json_t *all = json_null();
  if (count > 0) {
    const tw_winback before = {.builds = alone[0].builds, .good = alone[0].before};
    all = result(&before);
  }
  return json_pack("{s:o, s:o, s:o, s:n}", "as_built", all, "adjustments", list, "together",
                   together ? result(together) : json_null(), "pairing");
}

json_t *tw_json_pairing(const tw_study *study, const bool *disc, const bool *resistors, size_t lot,
                        const tw_winback *pairing)
{
  json_t *one = result(pairing), *first = json_array(), *second = json_array();
  for (size_t k = 0; k < study->inputs; k++) {
    if (disc[k]) {
      json_array_append_new(first, json_string(study->input[k].path));
    }
    if (resistors[k]) {
      json_array_append_new(second, json_string(study->input[k].path));
    }
  }
  json_object_set_new(one, "before", json_integer((json_int_t)pairing->before));
  json_object_set_new(one, "lot", json_integer((json_int_t)lot));
  json_object_set_new(one, "disc", first);
  json_object_set_new(one, "resistors", second);
  return one;
}

/* what was drawn for the marked inputs of a build */
static json_t *values(const tw_study *study, const tw_sampler *sampler, uint64_t build,
                      const bool *marked, double *x)
{
  json_t *all = json_object();
  tw_sampler_draw(sampler, build, x);
  for (size_t k = 0; k < study->inputs; k++) {
    if (marked[k]) {
      json_object_set_new(all, study->input[k].path, tw_json_input(study, k, x[k]));
    }
  }
  return all;
}

json_t *tw_json_pairs(const tw_study *study, const tw_sampler *sampler, const bool *disc,
                      const bool *resistors, const tw_pair *pair, size_t count)
{
  double *x = tw_alloc(study->inputs, sizeof *x);
  json_t *list = x ? json_array() : NULL;
  for (size_t i = 0; list && i < count; i++) {
    const tw_pair *p = &pair[i];
    json_array_append_new(list, json_pack("{s:I, s:I, s:b, s:o, s:o}", "board",
                                          (json_int_t)p->board, "disc", (json_int_t)p->disc, "good",
                                          (int)p->good, "disc_values",
                                          values(study, sampler, p->disc, disc, x), "board_values",
                                          values(study, sampler, p->board, resistors, x)));
  }
  tw_free(x);
  return list;
}

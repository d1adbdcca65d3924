/* fast_features.c: what the tables run along: every input that varies, over nearly all of its law.
 */
#include "fast_tables.h"
#include "tripwright/constants.h"
#include "tripwright/numerics.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* the shares of pieces under the nodes; for a normal law the middle, 1.5 and 3 deviations */
static const double SHARE[FAST_NODES] = {0.00135, 0.0668, 0.5, 0.9332, 0.99865};

/* keeps what differs from the middle and from its neighbour by more than rounding */
static void settle(fast_feature *f, double middle, const double *at, size_t count)
{
  double sorted[FAST_NODES];
  memcpy(sorted, at, count * sizeof *sorted);
  qsort(sorted, count, sizeof *sorted, tw_compare_doubles);
  const double whole = sorted[count - 1] - sorted[0];
  f->nodes = 0;
  for (size_t i = 0; i < count; i++) {
    const bool own = fabs(sorted[i] - middle) > 1e-6 * whole;
    const bool next = f->nodes == 0 || sorted[i] - f->node[f->nodes - 1] > 1e-6 * whole;
    if (whole > 0 && own && next) {
      f->node[f->nodes++] = sorted[i];
    }
  }
}

static void add(tw_fast *fast, fast_feature feature, double middle, const double *at)
{
  settle(&feature, middle, at, FAST_NODES);
  if (feature.nodes > 0) {
    const double from = fmin(feature.node[0], middle),
                 to = fmax(feature.node[feature.nodes - 1], middle);
    feature.from = from;
    feature.per = FAST_CELLS / (to - from);
    fast->feature[fast->features++] = feature;
  }
}

static void add_plain(const tw_study *study, size_t input, tw_fast *fast)
{
  const tw_varied *law = &study->input[input].law;
  double at[FAST_NODES];
  for (size_t i = 0; i < FAST_NODES; i++) {
    at[i] = tw_varied_quantile(law, SHARE[i]);
  }
  fast->middle[input] = at[FAST_NODES / 2];
  add(fast, (fast_feature){.input = input, .azimuth = SIZE_MAX}, fast->middle[input], at);
}

/* both coordinates, both ways, at the outer and the middle size */
static void add_pair(const tw_study *study, size_t input, size_t azimuth, tw_fast *fast)
{
  const tw_varied *law = &study->input[input].law;
  const double far = tw_varied_quantile(law, SHARE[FAST_NODES - 1]),
               half = tw_varied_quantile(law, SHARE[FAST_NODES / 2]);
  const double at[FAST_NODES] = {-far, -half, 0, half, far};
  fast->middle[input] = 0;
  for (int across = 0; across < 2; across++) {
    add(fast, (fast_feature){.input = input, .azimuth = azimuth, .across = across == 1}, 0, at);
  }
}

static size_t find(const tw_study *study, tw_field field)
{
  for (size_t k = 0; k < study->inputs; k++) {
    if (study->input[k].field == field) {
      return k;
    }
  }
  return SIZE_MAX;
}

static bool all_round(const tw_varied *law)
{
  return law->law == TW_LAW_UNIFORM && law->minus + law->plus >= 2 * TW_PI * (1 - 1e-9);
}

void tw_fast_list_features(const tw_study *study, tw_fast *fast)
{
  static const tw_field pair[][2] = {
      {TW_F_seat_eccentricity, TW_F_seat_eccentricity_azimuth},
      {TW_F_disc_ceramic_eccentricity, TW_F_disc_ceramic_eccentricity_azimuth}};
  bool done[TW_FIELD_COUNT] = {false};
  memcpy(fast->middle, study->now, study->inputs * sizeof *fast->middle);
  fast->features = 0;
  for (size_t p = 0; p < sizeof pair / sizeof pair[0]; p++) {
    const size_t size = find(study, pair[p][0]), azimuth = find(study, pair[p][1]);
    if (size == SIZE_MAX || azimuth == SIZE_MAX || !all_round(&study->input[azimuth].law)) {
      continue;
    }
    done[azimuth] = true;
    if (tw_varied_varies(&study->input[size].law)) {
      done[size] = true;
      add_pair(study, size, azimuth, fast);
    }
  }
  for (size_t k = 0; k < study->inputs; k++) {
    if (!done[k] && tw_varied_varies(&study->input[k].law)) {
      add_plain(study, k, fast);
    }
  }
}

void tw_fast_node(const tw_fast *fast, size_t feature, size_t node, double *x)
{
  const fast_feature *f = &fast->feature[feature];
  memcpy(x, fast->middle, sizeof fast->middle);
  if (f->azimuth == SIZE_MAX) {
    x[f->input] = f->node[node];
    return;
  }
  x[f->input] = fabs(f->node[node]);
  x[f->azimuth] = (f->across ? TW_PI / 2 : 0) + (f->node[node] < 0 ? TW_PI : 0);
}

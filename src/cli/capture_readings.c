/* capture_readings.c: which feature of a recording is which reading of the card. */
#include "capture_readings.h"

#include "capture_in.h"
#include "tripwright/identify.h"

#include <math.h>
#include <string.h>

/* a reading that is there already stays: a person wrote it, or a recording before this one */
static bool is_read(const tw_bench_in *in, tw_bench_id id)
{
  for (size_t i = 0; i < in->readings; i++) {
    if (in->reading[i].id == id) {
      return true;
    }
  }
  return false;
}

static bool on_card(const tw_bench_in *in, tw_bench_id id)
{
  const tw_bench_check *c = tw_bench_find(in->card, id);
  return c && (c->word || c->expect.known);
}

/* a feature that is surer than this share of itself is a reading (own choice) */
#define SURE 0.2

static void add(tw_bench_in *in, tw_bench_id id, double value, double u, const char *word)
{
  const bool sure = word || !(u > SURE * fabs(value));
  if (in->readings < TW_BENCH_COUNT && !is_read(in, id) && isfinite(value) && sure) {
    in->reading[in->readings++] = (tw_bench_reading){.id = id,
                                                     .kind = word ? TW_READ_WORD : TW_READ_NUMBER,
                                                     .value = value,
                                                     .u = isfinite(u) && u > 0 ? u : 0,
                                                     .word = word};
  }
}

/* the card's sign is that of a push: what is let go gives the other one */
static void add_sign(tw_bench_in *in, const tw_capture_result *r)
{
  const tw_capture_feature *f = tw_capture_feature_of(r, "polarity");
  const bool cut = r->act == TW_CAPTURE_THREAD_CUT || r->act == TW_CAPTURE_CARD_CUT;
  if (f && f->word[0] && (cut || r->act == TW_CAPTURE_HAND_WEIGHT) &&
      on_card(in, TW_BENCH_PUSH_SIGN)) {
    const bool plus = (f->word[0] == '+') == (r->push || !cut);
    add(in, TW_BENCH_PUSH_SIGN, 0, 0, plus ? "+" : "-");
  }
}

static void add_features(tw_bench_in *in, const tw_design *design, const tw_capture_result *r)
{
  static const struct {
    const char *feature;
    tw_bench_id id;
  } same[] = {{"decay", TW_BENCH_DECAY},
              {"ring_frequency", TW_BENCH_RESONANCE_LOADED},
              {"threshold", TW_BENCH_THRESHOLD},
              {"release", TW_BENCH_RELEASE}};
  for (size_t i = 0; i < sizeof same / sizeof same[0]; i++) {
    const tw_capture_feature *f = tw_capture_feature_of(r, same[i].feature);
    /* a film capacitor beside the node makes another decay */
    const bool other = same[i].id == TW_BENCH_DECAY && r->act == TW_CAPTURE_METER_DECAY;
    if (f && !f->least && !f->word[0] && !other && on_card(in, same[i].id)) {
      add(in, same[i].id, fabs(f->value), f->u, NULL);
    }
  }
  /* only a bonded stem passes the whole weight to the disc */
  const tw_capture_feature *q = tw_capture_feature_of(r, "charge_per_newton");
  if (q && !q->least && tw_design_choice(design, TW_F_seat_kind) == TW_SEAT_BONDED) {
    add(in, (tw_bench_id)TW_IDENTIFY_CHARGE, fabs(q->value), q->u, NULL);
  }
  add_sign(in, r);
}

tw_exit tw_capture_readings(tw_bench_in *in, const tw_design *design, tw_bench_instruments *with)
{
  tw_capture_setup setup;
  tw_capture_reading reading;
  const char *file;
  if (!tw_cli_text(in->cli, "capture", NULL)) {
    return TW_EXIT_DONE;
  }
  tw_exit code = tw_cli_capture_setup(in->cli, &setup, &reading);
  if (code == TW_EXIT_DONE && setup.instrument.known && isfinite(setup.instrument.resistance)) {
    with->scope_resistance = setup.instrument.resistance;
    with->scope_capacitance = setup.instrument.capacitance;
  }
  for (int k = 0; code == TW_EXIT_DONE && (file = tw_cli_text_at(in->cli, "capture", k)); k++) {
    tw_capture_record *record = NULL;
    tw_capture_result *result = NULL;
    code = tw_cli_capture(in->cli, file, &setup, &reading, &record, &result);
    if (code == TW_EXIT_DONE) {
      add_features(in, design, result);
    }
    tw_free(result);
    tw_capture_record_free(record);
  }
  return code;
}

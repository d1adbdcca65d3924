/* The charge of a weight that is let off the upturned tip, on the card joined by straight lines
 * between forces at which the seat was solved, against the seat itself in between; and the peak on
 * the card against the same ramp integrated in small steps along the seat's own answers
 * (docs/models/bench.md, weights and hands). */
#include "design_fixture.h"
#include "random_designs.h"
#include "tripwright/bench_suspect.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define SEED 20261130 /* any */
/* of the charge there, or of this share of the heaviest weight's where the socket carries it all */
#define WITHIN 0.02
#define FAINT  0.01
#define PLACES 12

static const double right_angle = 1.57079632679489662;

static tw_seat_model *tip_up(const tw_probe *probe)
{
  tw_seat_spec spec = probe->seat_spec;
  const tw_disc_view view = {probe->disc, probe->outside_capacitance};
  tw_seat_model *seat = NULL;
  spec.disc = &view; /* read while the model is made only */
  spec.gravity[0] = spec.gravity[1] = 0;
  spec.gravity[2] = TW_GRAVITY;
  assert_int_equal(tw_seat_model_new(&spec, &seat, NULL), TW_OK);
  return seat;
}

static double joined(const tw_bench_inputs *in, double force)
{
  double f0 = 0, q0 = 0;
  for (int i = 0; i < in->releases; i++) {
    if (force <= in->release_force[i] || i == in->releases - 1) {
      return q0 + (in->release_charge[i] - q0) * (force - f0) / (in->release_force[i] - f0);
    }
    f0 = in->release_force[i];
    q0 = in->release_charge[i];
  }
  return 0;
}

typedef struct tally {
  int designs, places, wrong;
  double worst;
} tally;

/* places evenly over the logarithm, as the weights are */
static void one(const tw_probe *probe, const tw_bench_inputs *in, const random_draw *draw, tally *t)
{
  tw_seat_model *seat = tip_up(probe);
  tw_seat_work *work = tw_seat_work_new(seat);
  const double most = in->release_force[in->releases - 1],
               faint = FAINT * in->release_charge[in->releases - 1];
  double worst = 0, at = 0;
  for (int k = 1; k < PLACES; k++) {
    const double force = 0.1 * most * pow(10, (double)k / PLACES);
    double charge;
    if (tw_seat_release(seat, work, 0, right_angle, force, &probe->touch, &charge, NULL) == TW_OK) {
      const double off = fabs(joined(in, force) - fabs(charge)) / fmax(fabs(charge), faint);
      at = off > worst ? force : at;
      worst = fmax(worst, off);
      t->places++;
    }
  }
  if (worst > WITHIN) {
    random_draw_print(draw);
    print_message("    %.2f %% off at %.3g N of %.3g N\n", 100 * worst, at, most);
  }
  t->wrong += worst > WITHIN;
  t->worst = fmax(t->worst, worst);
  t->designs++;
  tw_seat_work_free(work);
  tw_seat_model_free(seat);
}

static void charges_between_the_weights(void **state)
{
  (void)state;
  const char *prove = getenv("TW_PROVE");
  const uint64_t designs = prove && prove[0] == '1' ? 300 : 24;
  tw_bench_instruments with = tw_bench_instruments_default();
  with.without_weights = true;
  tally t = {0};
  for (uint64_t i = 0; i < designs; i++) {
    random_draw draw;
    tw_design *design = random_design(units, library, SEED, i, "", &draw);
    tw_probe *probe = NULL;
    static tw_bench_inputs in;
    static tw_assessment a;
    assert_non_null(design);
    if (tw_probe_new(design, &probe, NULL) == TW_OK && probe->trouble.status == TW_OK &&
        tw_bench_inputs_from(design, probe, &a, &with, &in, NULL) == TW_OK && in.releases > 0) {
      one(probe, &in, &draw, &t);
    }
    tw_probe_free(probe);
    tw_design_free(design);
  }
  print_message("%d designs, %d places: at most %.2f %% off; %d by more than %.0f %%\n", t.designs,
                t.places, 100 * t.worst, t.wrong, 100 * WITHIN);
  assert_int_equal(t.wrong, 0);
  assert_true(t.designs > 10);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(charges_between_the_weights)};
  return cmocka_run_group_tests_name("weights let off", tests, open_all, close_all);
}

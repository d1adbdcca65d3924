/* The card's weights against the design's own touch at the same pace, over random designs of every
 * family and kind of circuit, sideways and along the axis, in the posture that the card prescribes
 * (docs/models/bench.md, weights and hands). The tip is pushed through a spring much softer than
 * the seat, so that the force rises evenly as a hand lets it on: a weight 5 % above the card's
 * trips within the hand's time, one 5 % below it does not. */
#include "design_fixture.h"
#include "random_designs.h"
#include "tripwright/bench_suspect.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define SEED 20261201 /* any */
/* of a carrier that tips under its spring: s after the ramp in which the weight hangs on, and steps
 * of the integration in a second */
#define HANGS 0.2
#define STEPS 2e5
/* the share by which card and touch may differ, asked of them */
#define WITHIN 0.05
/* pretravels within which the touch's table is fine: the hand needs more than the trip does */
#define FINE        4.0
#define FINE_BEYOND 1.3
/* of the seat's stiffness: soft enough that the hand's force does not know the seat */
#define HAND_SOFT 1e-4
/* the trip may come so much after the ramp's end: the last rounding of the ramp */
#define HAND_LATE 1.02

static const double right_angle = 1.57079632679489662;

typedef struct tally {
  int designs, pulls[TW_BENCH_PULLS], unknown, late, wrong, kinds[RANDOM_KINDS];
} tally;

/* the probe in another posture: its weight pulls along `down` (unit, in the probe's axes) */
static tw_seat_model *seat_with(const tw_probe *probe, const double down[3])
{
  tw_seat_spec spec = probe->seat_spec;
  const tw_disc_view view = {probe->disc, probe->outside_capacitance};
  tw_seat_model *seat = NULL;
  tw_fault fault = {0};
  spec.disc = probe->has_disc ? &view : NULL; /* read while the model is made only */
  for (int i = 0; i < 3; i++) {
    spec.gravity[i] = TW_GRAVITY * down[i];
  }
  return tw_seat_model_new(&spec, &seat, &fault) == TW_OK ? seat : NULL;
}

/* The touch's own table is coarse past the trip, where a hand needs it fine, up to `further` times
 * the trip; the sign in which the circuit sees the charge stays. */
static tw_status rows_further_out(const tw_seat_model *seat, const tw_seat_options *options,
                                  tw_seat_work *work, const tw_seat_touch_result *at,
                                  double further, tw_probe_touch *touch, tw_fault *fault)
{
  const double fine = fmax(FINE, FINE_BEYOND * further);
  const double before = touch->charge[touch->model.carrier.table_count - 1];
  const tw_status status = tw_probe_rows(seat, options, work, at, fine, touch, fault);
  const double turn = before * touch->charge[touch->model.carrier.table_count - 1] < 0 ? -1 : 1;
  for (size_t i = 0; status == TW_OK && i < touch->model.carrier.table_count; i++) {
    touch->charge[i] *= turn;
  }
  return status;
}

/* does it trip while the force rises to that of `kg` in `time` s? */
static bool trips(const tw_probe_touch *touch, double kg, double time)
{
  tw_touch_model model = touch->model;
  tw_touch_motion motion = tw_touch_motion_default();
  tw_touch_result result;
  tw_fault fault = {0};
  tw_touch_work *work = tw_touch_work_new();
  const double seat = touch->force[1] / touch->x[1];
  model.contact =
      (tw_touch_contact){.kind = TW_CONTACT_LINEAR, .stiffness = HAND_SOFT * seat, .damping = 0};
  motion.feed = kg * TW_GRAVITY / model.contact.stiffness / time;
  motion.until = TW_UNTIL_EDGE;
  motion.give_up = 1.2 * time;
  const tw_status status = tw_touch_run(&model, &motion, work, NULL, &result, &fault);
  if (status != TW_OK) {
    fail_msg("%s: %s", fault.field, fault.text);
  }
  tw_touch_work_free(work);
  return result.first.reached >= TW_REACHED_THRESHOLD && result.first.threshold <= HAND_LATE * time;
}

/* force and charge of the carrier at a travel; past the table its last piece goes on */
static void carrier_at(const tw_probe_touch *touch, double x, double *force, double *charge)
{
  const size_t n = touch->model.carrier.table_count;
  size_t i = 1;
  while (i < n - 1 && touch->x[i] < x) {
    i++;
  }
  const double part = (x - touch->x[i - 1]) / (touch->x[i] - touch->x[i - 1]);
  *force = touch->force[i - 1] + part * (touch->force[i] - touch->force[i - 1]);
  *charge = touch->charge[i - 1] + part * (touch->charge[i] - touch->charge[i - 1]);
}

/* A plate or a tripod that has begun to tip is held by its spring alone and takes some hundredths
 * of a second to turn, while the weight hangs on. The touch in time knows no force that stays, so
 * its carrier (mass, damping, table) and its node are integrated here by small steps: m x'' + c x'
 * + F(x) = weight(t), q' = Q(x)' - q/tau. */
static bool trips_held(const tw_probe_touch *touch, double tau, double kg, double time)
{
  const tw_touch_model *m = &touch->model;
  tw_touch_levels levels;
  const bool contact = m->node.sense == TW_SENSE_OPENING;
  assert_int_equal(tw_touch_levels_of(m, &levels, NULL), TW_OK);
  const double sign = levels.trip < levels.rest ? -1 : 1, dt = 1 / STEPS;
  const double mass = m->tip.mass + m->carrier.mass, damping = m->carrier.damping;
  double x = 0, v = 0, q = 0, force, charge, before = 0;
  for (double t = 0; t < time + HANGS; t += dt) {
    const double weight = kg * TW_GRAVITY * fmin(t / time, 1);
    carrier_at(touch, x, &force, &charge);
    v += dt * (weight - force - damping * v) / mass; /* half implicit: keeps the energy */
    x += dt * v;
    carrier_at(touch, x, &force, &charge);
    q = (q + charge - before) * exp(-dt / tau);
    before = charge;
    if (contact ? x >= m->node.open_at : sign * q >= levels.charge) {
      return true;
    }
  }
  return false;
}

/* one direction of a design: its touch in the card's posture */
typedef struct pull {
  tw_probe_touch touch;
  tw_seat_touch_result seat;
  double time, tau; /* s: the hand's; of the node */
  bool tips;        /* only its spring holds the carrier once it has begun to move */
} pull;

static bool trips_with(const pull *p, double kg)
{
  return p->tips ? trips_held(&p->touch, p->tau, kg, p->time) : trips(&p->touch, kg, p->time);
}

/* weight of the touch itself over that of the card, by halving */
static double ratio_of(const pull *p, double kg)
{
  double low = 0.5, high = 2;
  for (int i = 0; i < 16; i++) {
    const double middle = sqrt(low * high);
    *(trips_with(p, middle * kg) ? &high : &low) = middle;
  }
  return high;
}

/* the design's touch with the probe's weight along the pull; `further`: what the hand needs over
 * what a weight at once does */
static tw_status lay_down(const tw_design *design, tw_probe *probe, double azimuth, bool axial,
                          double further, pull *out, tw_fault *fault)
{
  const double elevation = axial ? right_angle : 0;
  const double down[3] = {axial ? 0 : cos(azimuth), axial ? 0 : sin(azimuth), axial};
  const int family = tw_design_choice(design, TW_F_seat_kind);
  tw_seat_model *level = seat_with(probe, down), *own = probe->seat;
  assert_non_null(level);
  tw_seat_work *work = tw_seat_work_new(level);
  probe->seat = level;
  out->tips = family == TW_SEAT_TRIPOD || (family == TW_SEAT_PLATE && !axial);
  out->tau = probe->circuit.time_constant;
  tw_status status = tw_probe_touch_of(design, probe, work, azimuth, elevation, &out->touch, fault);
  if (status == TW_OK) {
    status = tw_seat_touch(level, work, azimuth, elevation, &probe->touch, &out->seat, fault);
  }
  if (status == TW_OK && probe->touch.metric != TW_SEAT_BY_OPENING) {
    status = rows_further_out(level, &probe->touch, work, &out->seat, further, &out->touch, fault);
  }
  probe->seat = own;
  tw_seat_work_free(work);
  tw_seat_model_free(level);
  return status;
}

static void compare(const pull *p, const tw_bench_check *check, const random_draw *draw, tally *t)
{
  const double kg = check->loads ? check->shown : check->expect.value;
  const double at_once = p->seat.force / TW_GRAVITY / check->expect.value;
  const bool good = trips_with(p, (1 + WITHIN) * kg) && !trips_with(p, (1 - WITHIN) * kg) &&
                    fabs(at_once - 1) <= WITHIN;
  if (!good) {
    random_draw_print(draw);
    print_message("    %s: card %.3f g at once, %.3f g by hand; touch %.4f of it at once, %.4f by "
                  "hand\n",
                  check->name, 1e3 * check->expect.value, 1e3 * kg, at_once, ratio_of(p, kg));
  }
  t->wrong += !good;
}

static void one_pull(const tw_design *design, tw_probe *probe, const tw_bench_card *card, int id,
                     double azimuth, double time, const random_draw *draw, tally *t)
{
  static pull p;
  tw_fault fault = {0};
  const tw_bench_check *check = tw_bench_find(card, (tw_bench_id)(TW_BENCH_WEIGHT_SIDE + id));
  if (!check || !check->expect.known) {
    t->unknown++;
    return;
  }
  p.time = time;
  if (lay_down(design, probe, azimuth, id == TW_BENCH_PULL_AXIAL,
               check->loads ? check->shown / check->expect.value : 1, &p, &fault) == TW_OK) {
    compare(&p, check, draw, t);
    t->pulls[id]++;
  } else {
    random_draw_print(draw);
    print_message("    %s: %s\n", check->name, fault.text);
    t->late++;
  }
}

static void one_design(uint64_t i, tally *t)
{
  tw_bench_instruments with = tw_bench_instruments_default();
  random_draw draw;
  static tw_bench_card card;
  static tw_assessment a;
  tw_fault fault = {0};
  tw_design *design = random_design(units, library, SEED, i, "", &draw);
  tw_probe *probe = NULL;
  assert_non_null(design);
  if (tw_bench_card_from(design, &with, 1, &card, &fault) == TW_OK &&
      tw_probe_new_to_touch(design, &probe, &fault) == TW_OK && probe->trouble.status == TW_OK) {
    tw_measure_set wanted = {{0}};
    wanted.has[TW_M_trip_force_side] = true;
    tw_assess_options options = tw_assess_defaults();
    options.wanted = &wanted;
    assert_int_equal(tw_assess(design, &options, &a, NULL), TW_OK);
    const tw_measure *side = &a.measure[TW_M_trip_force_side];
    const double azimuth[TW_BENCH_PULLS] = {
        [TW_BENCH_PULL_SIDE] = side->at_deg, [TW_BENCH_PULL_LEAST] = side->least_at_deg};
    t->designs++;
    t->kinds[i % RANDOM_KINDS]++;
    for (int id = 0; id < TW_BENCH_PULLS; id++) {
      one_pull(design, probe, &card, id, azimuth[id] * right_angle / 90, with.hand_time, &draw, t);
    }
  }
  tw_probe_free(probe);
  tw_design_free(design);
}

static void weights_are_those_of_the_touch(void **state)
{
  (void)state;
  const char *prove = getenv("TW_PROVE");
  const int wanted = prove && prove[0] == '1' ? 300 : 16;
  tally t = {0};
  /* those that are tripped at rest have no touch */
  for (uint64_t i = 0; t.designs < wanted && i < 3 * (uint64_t)wanted; i++) {
    one_design(i, &t);
  }
  print_message("%d designs: %d weights sideways, %d the easiest way, %d along the axis; %d not on "
                "the card, %d without a touch, %d off by more than 5 %%\n",
                t.designs, t.pulls[0], t.pulls[1], t.pulls[2], t.unknown, t.late, t.wrong);
  assert_int_equal(t.wrong + t.late, 0);
  assert_int_equal(t.designs, wanted);
  for (size_t k = 0; k < RANDOM_KINDS; k++) {
    assert_true(t.kinds[k] > 0);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(weights_are_those_of_the_touch)};
  return cmocka_run_group_tests_name("weights at the same pace", tests, open_all, close_all);
}

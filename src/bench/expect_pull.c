/* expect_pull.c: how the seat answers the weights of the bench: its course in the posture that the
 * card prescribes, with and without friction (docs/models/bench.md, weights and hands). */
#include "expect.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* pretravels within which the course is fine: a hand needs up to some three times the force */
#define FINE       4.0
#define FINE_LEAST 1.3
/* a leaky board needs more: so much beyond what it needs, and no further than this */
#define FINE_BEYOND 1.3
#define FINE_MOST   60.0

static const double right_angle = 1.57079632679489661923;

/* The disc under the same points in each of the postures: computed once. */
typedef struct known_points {
  tw_disc_view view;
  size_t n; /* 0: not known yet */
  double radius[TW_SEAT_GROUP], azimuth[TW_SEAT_GROUP];
  double compliance[TW_SEAT_GROUP * TW_SEAT_GROUP], charge[TW_SEAT_GROUP];
} known_points;

typedef struct bench_seat {
  const tw_probe *probe;
  known_points *points;
  tw_seat_model *seat;
  tw_seat_work *work;
  double hand_time; /* s */
} bench_seat;

/* a tw_seat_disc_fn; `view` is the place of a known_points */
static tw_status points_of(const void *view, size_t n, const double *radius, const double *azimuth,
                           double *compliance, double *charge, tw_fault *fault)
{
  known_points *k = *(known_points *const *)view;
  const size_t bytes = n * sizeof *radius;
  if (n == 0 || n != k->n || memcmp(radius, k->radius, bytes) != 0 ||
      memcmp(azimuth, k->azimuth, bytes) != 0) {
    const tw_status status =
        tw_disc_points(&k->view, n, radius, azimuth, compliance, charge, fault);
    if (status != TW_OK || n > TW_SEAT_GROUP) {
      return status;
    }
    k->n = n;
    memcpy(k->radius, radius, bytes);
    memcpy(k->azimuth, azimuth, bytes);
    memcpy(k->compliance, compliance, n * bytes);
    memcpy(k->charge, charge, bytes);
    return TW_OK;
  }
  memcpy(compliance, k->compliance, n * bytes);
  memcpy(charge, k->charge, bytes);
  return TW_OK;
}

/* the probe's seat with its weight pulling along `down` (unit, in the probe's axes) */
static tw_status seat_in(const tw_probe *probe, known_points *points, double hand_time,
                         const double down[3], bench_seat *out, tw_fault *fault)
{
  *out = (bench_seat){.probe = probe, .points = points, .hand_time = hand_time};
  tw_seat_spec spec = probe->seat_spec;
  points->view = (tw_disc_view){probe->disc, probe->outside_capacitance};
  spec.disc_points = probe->has_disc ? points_of : NULL;
  spec.disc = probe->has_disc ? &out->points : NULL;
  for (int i = 0; i < 3; i++) {
    spec.gravity[i] = TW_GRAVITY * down[i];
  }
  const tw_status status = tw_seat_model_new(&spec, &out->seat, fault);
  if (status != TW_OK) {
    return status;
  }
  out->work = tw_seat_work_new(out->seat);
  return out->work ? TW_OK : tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the seat");
}

static void drop(bench_seat *s)
{
  tw_seat_work_free(s->work);
  tw_seat_model_free(s->seat);
}

static void take_rows(const tw_probe *probe, const tw_probe_touch *from, tw_bench_course *out)
{
  const tw_seat_options *o = &probe->touch;
  out->sign = o->polarity;
  if (o->polarity == 0 && o->threshold > 0.0 && o->threshold_negative > 0.0) {
    out->counts_plus = probe->circuit.threshold_charge / o->threshold;
    out->counts_minus = probe->circuit.threshold_charge / o->threshold_negative;
  }
  out->rows = 0;
  for (size_t i = 0; i < from->model.carrier.table_count && out->rows < TW_BENCH_ROWS; i++) {
    out->force[out->rows] = from->force[i];
    out->charge[out->rows++] = from->charge[i];
  }
}

/* N that a hand needs, as far as the course is known */
static double by_hand(const bench_seat *s, const tw_bench_course *course)
{
  const tw_circuit *c = &s->probe->circuit;
  const double most = course->force[course->rows - 1];
  return tw_bench_least_force(course, c->threshold_charge, most, s->hand_time, c->time_constant);
}

/* one direction, until it trips and beyond */
static tw_status course_of(bench_seat *s, double azimuth, double elevation, bool friction,
                           tw_bench_course *out, tw_fault *fault)
{
  tw_seat_options options = s->probe->touch;
  tw_seat_touch_result touch;
  options.friction = friction;
  tw_status status = tw_seat_touch(s->seat, s->work, azimuth, elevation, &options, &touch, fault);
  if (status == TW_OK && touch.state != TW_SEAT_TRIPPED) {
    return tw_fail(fault, TW_NO_ANSWER, "", "", "it does not trip up to %.3g N",
                   touch.searched_force);
  }
  if (status != TW_OK) {
    return status;
  }
  out->opens = touch.force;
  out->travel = touch.pretravel;
  if (options.metric == TW_SEAT_BY_OPENING) {
    return TW_OK;
  }
  tw_probe_touch *rows = tw_alloc(1, sizeof *rows);
  if (!rows) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the seat's course");
  }
  status = tw_probe_rows(s->seat, &options, s->work, &touch, FINE, rows, fault);
  if (status == TW_NO_ANSWER) { /* no balance so far out */
    status = tw_probe_rows(s->seat, &options, s->work, &touch, FINE_LEAST, rows, fault);
  }
  if (status == TW_OK) {
    take_rows(s->probe, rows, out);
    const double further = by_hand(s, out) / touch.force;
    if (further > FINE && further < FINE_MOST &&
        tw_probe_rows(s->seat, &options, s->work, &touch, FINE_BEYOND * further, rows, fault) ==
            TW_OK) {
      take_rows(s->probe, rows, out);
    }
  }
  tw_free(rows);
  return status;
}

static tw_status pull_of(bench_seat *s, double azimuth, double elevation, tw_bench_pull *out,
                         tw_fault *fault)
{
  tw_status status = course_of(s, azimuth, elevation, true, &out->rubbed, fault);
  if (status == TW_OK) {
    status = course_of(s, azimuth, elevation, false, &out->smooth, fault);
  }
  out->known = status == TW_OK;
  return status;
}

/* Straight lines between two forces do where the charge half way lies this near to them, in shares
 * of it; so often an interval is halved: what the socket carries until the preload is off it makes
 * a kink, which is enclosed to a 128th. */
#define STRAIGHT_WITHIN 5e-3
#define KINK_HALVINGS   7

typedef struct let_off {
  double force, charge; /* N, C signed */
} let_off;

static bool release_of(bench_seat *s, double force, let_off *out)
{
  out->force = force;
  return tw_seat_release(s->seat, s->work, 0.0, right_angle, force, &s->probe->touch, &out->charge,
                         NULL) == TW_OK;
}

static void put_release(tw_bench_inputs *out, const let_off *at)
{
  if (out->releases < TW_BENCH_ROWS - 1) { /* the course begins with a row of its own at nothing */
    out->release_force[out->releases] = at->force;
    out->release_charge[out->releases++] = fabs(at->charge);
  }
}

/* what lies between two forces, as far as it bends; not the two themselves */
static void releases_between(bench_seat *s, const let_off *a, const let_off *b, int halvings,
                             tw_bench_inputs *out)
{
  let_off half;
  if (halvings == 0 || !release_of(s, 0.5 * (a->force + b->force), &half) ||
      fabs(half.charge - 0.5 * (a->charge + b->charge)) <= STRAIGHT_WITHIN * fabs(half.charge)) {
    return;
  }
  releases_between(s, a, &half, halvings - 1, out);
  put_release(out, &half);
  releases_between(s, &half, b, halvings - 1, out);
}

static double slope(const let_off *a, const let_off *b)
{
  return (b->charge - a->charge) / (b->force - a->force);
}

/* two straight pieces meet between a and b: they go on from before a and from behind b */
static bool one_kink(bench_seat *s, const let_off *before, const let_off *a, const let_off *b,
                     const let_off *behind, let_off *kink)
{
  const double old = slope(before, a), new = slope(b, behind);
  const double force = (b->charge - a->charge + old * a->force - new * b->force) / (old - new);
  const double charge = a->charge + old * (force - a->force);
  return force > a->force && force < b->force && release_of(s, force, kink) &&
         fabs(kink->charge - charge) <= STRAIGHT_WITHIN * fabs(charge);
}

/* the rows between two weights, where the charge does not go on as it came; `behind` may be NULL */
static void put_bend(bench_seat *s, const let_off *before, const let_off *a, const let_off *b,
                     const let_off *behind, tw_bench_inputs *out)
{
  let_off kink;
  const double old = a->force > 0.0 ? slope(before, a) : 0.0, now = slope(a, b);
  if (a->force > 0.0 && fabs(now - old) <= STRAIGHT_WITHIN * fabs(now)) {
    return;
  }
  if (a->force > 0.0 && behind && one_kink(s, before, a, b, behind, &kink)) {
    put_release(out, &kink);
    return;
  }
  releases_between(s, a, b, KINK_HALVINGS, out);
}

/* the row before the last */
static let_off last_but_one(const tw_bench_inputs *out, double sign)
{
  const int i = out->releases - 2;
  return i < 0 ? (let_off){0.0, 0.0}
               : (let_off){out->release_force[i], sign * out->release_charge[i]};
}

/* a preload that is softer by a quarter takes the course so much further (tw_bench_ramp at F/p) */
#define FURTHER_THAN_TEST 1.4

/* the weights at hand, let off; no further than a weight that is laid down already needs, and not
 * those that throw the carrier out: they have no answer, heavier ones neither */
static int weights_let_off(bench_seat *s, const tw_bench_instruments *with,
                           let_off out[TW_BENCH_WEIGHTS])
{
  const double most = FURTHER_THAN_TEST * with->test_weight * TW_GRAVITY;
  int n = 0;
  while (n < TW_BENCH_WEIGHTS && with->weights[n] > 0.0 &&
         !(most > 0.0 && n > 0 && out[n - 1].force > most) &&
         release_of(s, with->weights[n] * TW_GRAVITY, &out[n])) {
    n++;
  }
  return n;
}

/* the charge of each weight at hand, let off the upturned tip, and of what lies between them */
static tw_status releases_of(bench_seat *s, const tw_bench_instruments *with, tw_bench_inputs *out)
{
  let_off weight[TW_BENCH_WEIGHTS], before, last = {0.0, 0.0};
  const int n = weights_let_off(s, with, weight);
  double signed_charge = 0.0;
  for (int i = 0; i < n; i++) {
    before = last_but_one(out, last.charge < 0.0 ? -1.0 : 1.0);
    put_bend(s, &before, &last, &weight[i], i + 1 < n ? &weight[i + 1] : NULL, out);
    put_release(out, &weight[i]);
    last = weight[i];
    signed_charge = last.charge;
  }
  if (s->probe->disc_spec.poling != TW_DISC_POLING_UNKNOWN && signed_charge != 0.0) {
    out->push_sign = signed_charge < 0.0 ? 1 : -1;
  }
  return TW_OK;
}

/* no answer is one: the card says why; other errors end it */
static tw_status or_why(tw_status status, const tw_fault *fault, tw_bench_pull *pull)
{
  if (status == TW_NO_ANSWER || status == TW_BAD_INPUT) {
    pull->known = false;
    snprintf(pull->why, sizeof pull->why, "%.150s", fault->text);
    return TW_OK;
  }
  return status;
}

static tw_status take_pulls(const tw_probe *probe, known_points *points,
                            const tw_bench_instruments *with, const double side_azimuth[2],
                            bool has_side, tw_bench_inputs *out, tw_fault *fault)
{
  bench_seat s;
  tw_fault why = {0};
  const bool signal = probe->has_disc && probe->board.kind != TW_BOARD_CONTACT;
  for (int i = 0; i < 2 && has_side && !with->without_weights; i++) {
    if (with->without[i]) {
      continue;
    }
    /* probe level, the thread pulls straight down */
    const double down[3] = {cos(side_azimuth[i]), sin(side_azimuth[i]), 0.0};
    tw_status status = seat_in(probe, points, with->hand_time, down, &s, &why);
    if (status == TW_NO_ANSWER) { /* it has one with the tip down: the probe itself was solved */
      tw_fail(&why, status, "preload.force", NULL,
              "with the probe level the weight of stylus and carrier moves the carrier off its "
              "seat (preload.force); pull with the tip down");
    }
    status = status == TW_OK ? pull_of(&s, side_azimuth[i], 0.0, &out->pull[i], &why) : status;
    drop(&s);
    status = or_why(status, &why, &out->pull[i]);
    if (status != TW_OK) {
      *fault = why;
      return status;
    }
  }
  /* tip up, the weight presses it down into the probe */
  const double down[3] = {0.0, 0.0, 1.0};
  tw_status status = seat_in(probe, points, with->hand_time, down, &s, &why);
  if (status == TW_OK && signal) {
    status = releases_of(&s, with, out);
  }
  if (status == TW_OK && !with->without_weights && !with->without[TW_BENCH_PULL_AXIAL]) {
    status = pull_of(&s, 0.0, right_angle, &out->pull[TW_BENCH_PULL_AXIAL], &why);
  }
  drop(&s);
  status = or_why(status, &why, &out->pull[TW_BENCH_PULL_AXIAL]);
  if (status != TW_OK) {
    *fault = why;
  }
  return status;
}

tw_status tw_bench_take_pulls(const tw_probe *probe, const tw_bench_instruments *with,
                              const double side_azimuth[2], bool has_side, tw_bench_inputs *out,
                              tw_fault *fault)
{
  known_points *points = tw_alloc(1, sizeof *points);
  const tw_status status =
      points ? take_pulls(probe, points, with, side_azimuth, has_side, out, fault)
             : tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the disc's points");
  tw_free(points);
  return status;
}

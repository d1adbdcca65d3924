/* extremes.c: the largest and the smallest force and travel over all azimuths, between the points
 * of the grid too (docs/models/assess.md 2).
 *
 * Directions that are alike fall on each other, so the touches of the grid are folded into the part
 * of the circle that repeats. Between two neighbours both flanks are carried on as parabolas
 * through the touches beside them, so that a peak may be round or sharp; where the lower of the two
 * is highest is touched next, until they promise no more.
 */
#include "extremes.h"
#include "tripwright/constants.h"

#include <math.h>
#include <stdlib.h>

/* share of the figure that the flanks must promise for another touch */
#define WORTH 1e-3
/* rad; nearer than this two touches are one */
#define SAME_AZIMUTH 1e-6
/* a touch between the grid's must be better by this share to take the place of one on it */
#define BETTER 1e-4
/* touches for one extreme */
enum { MOST_TOUCHES = TW_BETWEEN / TW_EXTREMES };
/* rad; a direction without a balance lies beside a plane of symmetry, where the path branches: this
 * far off there is one */
#define BESIDE 4e-3

/* one touch, or its picture in the mirror or one turn on */
typedef struct sample {
  double at; /* rad, folded */
  size_t touch;
} sample;

typedef struct fold {
  tw_seat_symmetry symmetry;
  double width; /* rad of the part that repeats */
  sample *sample;
  size_t count;
} fold;

static double folded(const fold *f, double azimuth)
{
  const double turn = 2 * TW_PI / (double)f->symmetry.order;
  double at = fmod(azimuth - f->symmetry.plane, turn);
  at = at < 0 ? at + turn : at;
  return f->symmetry.mirrored ? fmin(at, turn - at) : at;
}

static void add(fold *f, double at, size_t touch)
{
  size_t i = 0;
  for (; i < f->count && f->sample[i].at < at - SAME_AZIMUTH; i++) {
  }
  if (i < f->count && f->sample[i].at < at + SAME_AZIMUTH) {
    return; /* alike: the first one stands */
  }
  for (size_t k = f->count++; k > i; k--) {
    f->sample[k] = f->sample[k - 1];
  }
  f->sample[i] = (sample){at, touch};
}

/* a touch with its pictures beside both ends of the part */
static void add_all(fold *f, double azimuth, size_t touch)
{
  const double at = folded(f, azimuth), w = f->width;
  add(f, at, touch);
  add(f, f->symmetry.mirrored ? -at : at - w, touch);
  add(f, f->symmetry.mirrored ? 2 * w - at : at + w, touch);
}

/* What is made as large as it goes: for the smallest the figure with its sign turned; for the
 * largest the reciprocal, since a carrier that tips takes a force like 1/cos, whose peaks have
 * hollow flanks (seat.md 4) while those of the cosine are nearly straight. */
static double height(const tw_run *run, const fold *f, size_t i, int which)
{
  const tw_seat_touch_result *t = &run->touch[f->sample[i].touch];
  const double value = which == TW_FORCE_MOST || which == TW_FORCE_LEAST ? t->force : t->pretravel;
  return which == TW_FORCE_MOST || which == TW_TRAVEL_MOST ? -1 / value : -value;
}

/* up to three samples on one side of a gap, from `i` on away from it, none nearer to the last than
 * half the gap: what a smooth flank does in the gap is told by its like beside it */
static size_t flank_of(const tw_run *run, const fold *f, size_t i, int step, double gap, int which,
                       double x[3], double y[3])
{
  size_t n = 0;
  for (; i < f->count && n < 3; i += (size_t)step) { /* past 0 it wraps, and ends */
    if (n == 0 || fabs(f->sample[i].at - x[n - 1]) > 0.5 * gap) {
      x[n] = f->sample[i].at;
      y[n++] = height(run, f, i, which);
    }
  }
  return n;
}

/* the higher of the line through the two nearest points, which a round peak stays under, and the
 * parabola through all three, which follows a hollow flank */
static double carried_on(const double x[3], const double y[3], double at)
{
  const double d1 = (y[1] - y[0]) / (x[1] - x[0]), d2 = (y[2] - y[1]) / (x[2] - x[1]);
  const double bend = (at - x[1]) * (d2 - d1) / (x[2] - x[0]);
  const double straight = y[0] + (at - x[0]) * d1;
  return straight + fmax((at - x[0]) * bend, 0);
}

/* where between samples i and i + 1 both flanks, carried on, promise most, and how much */
static double promise(const tw_run *run, const fold *f, size_t i, int which, double *at)
{
  enum { LOOKS = 48 };
  const double from = f->sample[i].at, gap = f->sample[i + 1].at - from;
  double xl[3], yl[3], xr[3], yr[3], most = -HUGE_VAL;
  *at = from;
  if (flank_of(run, f, i, -1, gap, which, xl, yl) < 3 ||
      flank_of(run, f, i + 1, 1, gap, which, xr, yr) < 3) {
    return most;
  }
  for (int k = 1; k < LOOKS; k++) {
    const double x = from + gap * k / LOOKS;
    const double here = fmin(carried_on(xl, yl, x), carried_on(xr, yr, x));
    if (here > most) {
      most = here;
      *at = x;
    }
  }
  return most;
}

/* the sample that is largest; of several alike the first of the list of touches */
static size_t best_of(const tw_run *run, const fold *f, int which)
{
  size_t best = 0;
  for (size_t i = 1; i < f->count; i++) {
    const double gain = height(run, f, i, which) - height(run, f, best, which);
    const bool later = f->sample[i].touch > f->sample[best].touch;
    const bool between = later && f->sample[i].touch >= run->between_first;
    const double same = (between ? BETTER : 1e-9) * fabs(height(run, f, best, which));
    best = gain > same || (gain >= -same && !later) ? i : best;
  }
  return best;
}

/* Beside a plane of symmetry the last bit of a direction decides a path: the azimuth is one that
 * comes back from the degrees in which it is told. */
static double as_told(double azimuth)
{
  double told = azimuth * 180 / TW_PI * TW_PI / 180;
  for (int i = 0; i < 4 && told * 180 / TW_PI * TW_PI / 180 != told; i++) {
    told = told * 180 / TW_PI * TW_PI / 180;
  }
  return told;
}

static tw_status touch_at(tw_run *run, fold *f, double at, bool *trips, tw_fault *fault)
{
  const size_t n = run->between_first + run->between;
  tw_seat_touch_result *t = &run->touch[n];
  const double azimuth = as_told(fmod(f->symmetry.plane + at + 4 * TW_PI, 2 * TW_PI));
  tw_fault why = {0};
  const tw_status status =
      tw_seat_touch(run->probe->seat, run->work, azimuth, 0, &run->probe->touch, t, &why);
  *trips = status == TW_OK && t->state == TW_SEAT_TRIPPED;
  if (*trips) {
    run->between++;
    add_all(f, azimuth, n);
  }
  if (status != TW_OK && status != TW_NO_ANSWER && fault) {
    *fault = why;
  }
  return status == TW_NO_ANSWER ? TW_OK : status;
}

/* Where the flanks promise most, beside the best sample if there is anything there, else anywhere:
 * of peaks that are nearly alike one is climbed to its top. *most: how much. */
static double where_next(const tw_run *run, const fold *f, int which, size_t best, double *most)
{
  const double enough = *most + WORTH * fabs(*most);
  double where = 0;
  for (int pass = 0; pass < 2 && !(*most > enough); pass++) {
    for (size_t i = 0; i + 1 < f->count; i++) {
      double at = 0;
      const double here = promise(run, f, i, which, &at);
      if ((pass > 0 || i == best || i + 1 == best) && here > *most && at > -SAME_AZIMUTH &&
          at < f->width + SAME_AZIMUTH) {
        *most = here;
        where = at;
      }
    }
  }
  return where;
}

static tw_status refine(tw_run *run, fold *f, int which, tw_fault *fault)
{
  bool goes_on = run->options->between && f->count >= 4;
  tw_status status = TW_OK;
  for (int n = 0; n < MOST_TOUCHES && goes_on && status == TW_OK; n++) {
    const size_t best = best_of(run, f, which);
    double most = height(run, f, best, which);
    const double enough = most + WORTH * fabs(most);
    const double where = where_next(run, f, which, best, &most);
    goes_on = most > enough;
    if (goes_on) {
      status = touch_at(run, f, where, &goes_on, fault);
      if (status == TW_OK && !goes_on) {
        status = touch_at(run, f, where + BESIDE, &goes_on, fault);
      }
    }
  }
  run->extreme[which] = f->sample[best_of(run, f, which)].touch;
  return status;
}

tw_status tw_find_extremes(tw_run *run, tw_fault *fault)
{
  fold f = {.count = 0};
  tw_seat_symmetry_of(run->probe->seat, &f.symmetry);
  f.width = 2 * TW_PI / (double)f.symmetry.order / (f.symmetry.mirrored ? 2 : 1);
  f.sample = tw_alloc(3 * (run->sides + TW_BETWEEN), sizeof *f.sample);
  if (!f.sample) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the touches");
  }
  for (size_t k = 0; k < run->sides; k++) {
    add_all(&f, run->touch[k].azimuth, k);
  }
  tw_status status = TW_OK;
  for (int which = 0; which < TW_EXTREMES && status == TW_OK; which++) {
    status = refine(run, &f, which, fault);
  }
  tw_free(f.sample);
  return status;
}

/* share of the longest travel within which all sides are one (a ring, an even seat) */
#define ALIKE_SHARE 1e-3

bool tw_softest_differs(const tw_run *run)
{
  const tw_seat_touch_result *most = &run->touch[run->extreme[TW_TRAVEL_MOST]],
                             *least = &run->touch[run->extreme[TW_TRAVEL_LEAST]];
  return most->pretravel - least->pretravel > ALIKE_SHARE * most->pretravel;
}

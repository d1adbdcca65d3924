/* expect.h: inside the bench room: how the files of the card add their checks. */
#ifndef TW_BENCH_EXPECT_H
#define TW_BENCH_EXPECT_H

#include "tripwright/bench.h"
#include "tripwright/units.h"

/* what all of them need: the board with the fitted disc's spread in it, solved */
typedef struct tw_bench_work {
  const tw_bench_inputs *in;
  const tw_bench_instruments *with;
  tw_circuit_spec board;
  tw_circuit solved;
  tw_output_levels levels;
  tw_bench_card *card;
} tw_bench_work;

/* the next check of the card, with its words filled in */
tw_bench_check *tw_bench_add(tw_bench_work *work, tw_bench_id id);
/* point, instrument, meanings of one check */
void tw_bench_words(tw_bench_check *check, tw_circuit_kind kind);

/* a figure that is known, ends in either order */
tw_bench_figure tw_bench_figure_of(double value, double a, double b);
tw_bench_figure tw_bench_unknown(const char *format, ...) __attribute__((format(printf, 1, 2)));
/* value and ends of a figure of the board over its uncertainties */
tw_bench_figure tw_bench_range(const tw_bench_work *work, tw_circuit_figure figure);
/* the figure times a factor that is known only between two ends */
tw_bench_figure tw_bench_times(const tw_bench_figure *figure, double factor, double low,
                               double high);

/* what a meter of resistance `meter` shows behind `source` ohm; sets `loads` if it matters */
void tw_bench_load_volts(tw_bench_check *check, double source, double meter, const char *what);
/* the same for readings that the instrument scales */
void tw_bench_load_scale(tw_bench_check *check, double scale, const char *words);

/* charge left on the node while a force rises to `force` in `time` s along a course, or falls from
 * it (`off`); tau s: INFINITY when nothing leaks */
typedef struct tw_bench_left {
  double peak, end; /* C, as far as it trips (`off`: magnitude): largest on the way, at its end */
} tw_bench_left;
tw_bench_left tw_bench_ramp(const tw_bench_course *course, double force, bool off, double time,
                            double tau);
/* smallest force up to `most` whose ramp reaches `threshold` C; INFINITY: none */
double tw_bench_least_force(const tw_bench_course *course, double threshold, double most,
                            double time, double tau);

/* pull[], release_*, push_sign of `out`; azimuths (rad) of the largest and the smallest */
tw_status tw_bench_take_pulls(const tw_probe *probe, const tw_bench_instruments *with,
                              const double side_azimuth[2], bool has_side, tw_bench_inputs *out,
                              tw_fault *fault);

void tw_bench_add_supply(tw_bench_work *work);
void tw_bench_add_levels(tw_bench_work *work);
void tw_bench_add_outputs(tw_bench_work *work);
void tw_bench_add_chain(tw_bench_work *work);
void tw_bench_add_disc(tw_bench_work *work);
void tw_bench_add_preload(tw_bench_work *work);
void tw_bench_add_signal(tw_bench_work *work);
void tw_bench_add_weights(tw_bench_work *work);

#endif

/* signal.h: small things about a row of samples that several acts need. */
#ifndef TW_CAPTURE_SIGNAL_H
#define TW_CAPTURE_SIGNAL_H

#include "tripwright/capture.h"
#include "tripwright/constants.h"

#define TW_SIGMA_OF_MAD 1.4826 /* of a normal law: sigma over the median deviation */

double tw_median(const double *v, size_t n, double *scratch); /* scratch: n numbers */
/* median and sigma by the median deviation of v[0..n); false without memory */
bool tw_level(const double *v, size_t n, double *median, double *sigma);
/* frequency of the largest line of v (Hann window, zero padded, parabola through the logarithms)
 * between low and high; 0 when there is none; false without memory */
bool tw_line(const double *v, size_t n, double interval, double low, double high, double *hz);
/* share of the energy in the top octave; false without memory */
bool tw_top_octave(const double *v, size_t n, double *share);
/* Where something happens: jump of the 4-sample mean of more than 6 times its own noise, dead time
 * after each. Up to `room` sample numbers of the first sample beyond the noise; *sigma the noise of
 * single samples. false without memory. */
bool tw_jumps(const double *v, size_t n, size_t dead, size_t room, size_t *at, size_t *count,
              double *sigma);
/* a flat run at an end of the range: rows at the end of docs/models/capture.md 3; which (-1 low, 1
 * high) */
typedef struct tw_clip {
  bool low, high;
  double least, most; /* samples at or beyond are clipped */
  size_t count;
} tw_clip;
bool tw_clipped(const double *v, size_t n, double step, double rest, tw_clip *out);

/* ---- result ---------------------------------------------------------------------------------- */

tw_capture_feature *tw_put_feature(tw_capture_result *r, const char *name, double value, double u,
                                   const char *unit);
void tw_put_word_feature(tw_capture_result *r, const char *name, double value, const char *word);
void tw_put_concern(tw_capture_result *r, const char *word, const char *hint, const char *format,
                    ...) __attribute__((format(printf, 4, 5)));
void tw_put_mark(tw_capture_result *r, double t, double y, const char *text);
void tw_note(tw_capture_feature *f, const char *format, ...) __attribute__((format(printf, 2, 3)));

#endif

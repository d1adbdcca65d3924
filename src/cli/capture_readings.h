/* capture_readings.h: recordings taken as readings of the bench card. */
#ifndef TW_CLI_CAPTURE_READINGS_H
#define TW_CLI_CAPTURE_READINGS_H

#include "bench_in.h"

/* what a verb that takes --capture lists beside it */
/* clang-format off */
#define TW_CAPTURE_READINGS_OPTIONS                                                                \
  {"capture", "FILE", "a recording of scope, sound card or meter; its features are readings too",  \
   true},                                                                                          \
  {"act", "WORD", "what was done in it (default: as it looks; tripwright capture --acts)", false}, \
  {"instrument", "ID", "what recorded it: a row of tripwright parts instruments", false},          \
  {"attenuation", "N", "multiply the file's numbers", false},                                      \
  {"weight", "MASS", "that was cut off or set down", false},                                       \
  {"push", NULL, "the weight was set down, not let go", false},                                    \
  {"full-scale", "VOLT", "volts at full scale of an audio file", false},                           \
  {"gain-from", "FILE", "the same from a recording of a known tone, with --tone", false},          \
  {"tone", "VOLT", "effective value of that tone", false}
/* clang-format on */

/* Features of every --capture as further readings of `in`; what was read by hand goes first. What
 * hung on the node comes into `with`. A recording that cannot be read is reported. */
tw_exit tw_capture_readings(tw_bench_in *in, const tw_design *design, tw_bench_instruments *with);

#endif

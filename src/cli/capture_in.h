/* capture_in.h: recordings on the command line: how a file is read, what the instrument is and what
 * was done. Verbs that take captures put these options into their list. */
#ifndef TW_CLI_CAPTURE_IN_H
#define TW_CLI_CAPTURE_IN_H

#include "tripwright/capture.h"
#include "verb.h"

/* clang-format off */
#define TW_CAPTURE_OPTIONS                                                                         \
  {"act", "WORD", "what was done: rest, thread_cut, hand_weight, tap, sweep, ramp, touches ... "   \
                  "(default: as the recording looks; --acts lists them)", false},                  \
  {"instrument", "ID", "what hung on the node: a row of tripwright parts instruments, or of "      \
                       "instruments: in the shop file", false},                                    \
  {"shop", "FILE", "file with the workshop's own instruments (default: shop.yaml here)", false},   \
  {"parts", "FOLDER", "look up library rows here", false},                                         \
  {"input-resistance", "OHM", "of the instrument at the tip, e.g. \"10 Mohm ± 2 %\"", false},      \
  {"input-capacitance", "FARAD", "of the instrument at the tip", false},                           \
  {"coupling", "FARAD", "capacitor in series with the instrument's input", false},                 \
  {"bandwidth", "HZ", "of the instrument", false},                                                 \
  {"attenuation", "N", "multiply the file's numbers (10: a 10:1 probe that the file does not "     \
                       "know of)", false},                                                         \
  {"full-scale", "VOLT", "volts at full scale of an audio file", false},                           \
  {"gain-from", "FILE", "the same from a recording of a known tone, with --tone", false},          \
  {"tone", "VOLT", "effective value of that tone", false},                                         \
  {"weight", "MASS", "e.g. \"5 g\"; several in order: \"2 g, 5 g, 10 g\"", false},                 \
  {"push", NULL, "the weight was set down, not let go", false},                                    \
  {"bias-resistor", "OHM", "on the node, with its limits: \"1 Mohm ± 1 %\"", false},               \
  {"node-capacitance", "FARAD", "of disc and cable, without the instrument", false},               \
  {"series-resistor", "OHM", "between generator and disc, of a sweep", false},                     \
  {"channel-ratio", "N", "gain of the second channel over the first", false},                      \
  {"film-capacitor", "FARAD", "on the node while a meter reads its discharge", false},             \
  {"reach", "LENGTH", "for directions", false},                                                    \
  {"seat-radius", "LENGTH", "for directions", false},                                              \
  {"azimuth", "ANGLE", "of the force, for the record", false},                                     \
  {"feed", "SPEED", "of touches, for the record", false},                                          \
  {"cut-time", "TIME", "how long the cut took (default: fitted)", false},                          \
  {"channel", "N", "that is evaluated, from 1", false},                                            \
  {"separator", "SIGN", "comma, semicolon or tab", false},                                         \
  {"decimal", "SIGN", "point or comma", false},                                                    \
  {"interval", "TIME", "between samples, where the file does not say", false},                     \
  {"rate", "HZ", "the same as a rate", false},                                                     \
  {"pretrigger", "SHARE", "part of the record before the trigger (0.2)", false},                   \
  {"columns-in", "UNITS", "of time and values, e.g. ms,mV", false}
/* clang-format on */

/* setting and reading after the options; a wrong one is reported */
tw_exit tw_cli_capture_setup(tw_cli *cli, tw_capture_setup *setup, tw_capture_reading *reading);
/* read and evaluate one file; messages and faults are printed with the file's name. The caller
 * frees both. */
tw_exit tw_cli_capture(tw_cli *cli, const char *file, const tw_capture_setup *setup,
                       const tw_capture_reading *reading, tw_capture_record **record,
                       tw_capture_result **result);

#endif

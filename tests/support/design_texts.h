/* design_texts.h: parts of design files that several tests put together. They are theirs, not the
 * program's templates: a template may change without moving a test. */
#ifndef TW_TEST_DESIGN_TEXTS_H
#define TW_TEST_DESIGN_TEXTS_H

/* all of a pivot probe but disc, support, requirements and shop */
#define TEXT_PIVOT_REST                                                                            \
  "seat: {kind: pivot, ball_radius: 3.5 mm, flat_radius: 3 mm, flat_height: 0 mm, "                \
  "friction: 0.1}\n"                                                                               \
  "preload: {force: 0.8 N}\n"                                                                      \
  "stylus: {reach: 32 mm, stem_diameter: 1.5 mm, ball_diameter: 2 mm}\n"                           \
  "circuit: {kind: comparator, supply: 3.3 V, amplifier: comparator_micropower_oc, "               \
  "bias_resistance: 1M0, bias_upper: 47k, bias_lower: 15k, reference_upper: 39k, "                 \
  "reference_lower: 15k, feedback_resistance: 1M0}\n"                                              \
  "output: {kind: open_collector}\n"

#endif

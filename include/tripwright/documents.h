/* documents.h: the JSON documents that command line, page and report share.
 *
 * One function a document; each gives a new jansson object {"schema": "tripwright.NAME/1", "tool":
 * {version, flags}, ...} in SI with the unit beside each number, as docs/guide/contract.md fixes
 * it. The caller owns the object (json_decref). A number that does not exist is null, never NaN.
 */
#ifndef TRIPWRIGHT_DOCUMENTS_H
#define TRIPWRIGHT_DOCUMENTS_H

#include "tripwright/assess.h"
#include "tripwright/bench_suspect.h"
#include "tripwright/design.h"
#include "tripwright/identify.h"
#include "tripwright/identify_causes.h"

#include <jansson.h>
#include <stdio.h>

/* the head of every document; NULL without memory */
json_t *tw_document_new(const char *name);
/* {"value": v, "unit": u}; null when v is not finite */
json_t *tw_json_quantity(double value, const char *unit);
json_t *tw_json_number(double value);
/* {"name", "revision", "file"} */
json_t *tw_json_design(const tw_design *design);

/* Puts `state` into a document or a part of one; beside a state that is not ok also `sentence`
 * (what it means), and from `why` (may be NULL) the cause, the field to change and the hint. */
void tw_json_put_state(json_t *document, tw_measure_state state, const tw_fault *why);

/* measures, requirements and warnings */
json_t *tw_document_check(const tw_design *design, const tw_assessment *assessment,
                          const tw_limits *limits);
/* Is this the file of a built unit: based on a drawing, with something measured on it? */
bool tw_unit_is_one(const tw_design *design);
/* the measures that stand side by side for it: those that are asked for, and those measured */
tw_measure_set tw_unit_beside(const tw_design *unit, const tw_assessment *of_unit);
/* [{name, unit, foreseen_drawing, foreseen_unit, measured, measured_limits}]: for `check` of a unit
 */
json_t *tw_json_unit(const tw_design *unit, const tw_assessment *of_unit,
                     const tw_assessment *of_drawing);
/* {verdict, sentence, state, asked, met, left_out[]}: what an assessment comes to */
json_t *tw_json_verdict(const tw_assessment *assessment);
json_t *tw_json_measure(tw_measure_id id, const tw_measure *measure, const tw_limit *limit);

/* the disc alone, with rings at `radii` (m); needs disc and support only */
tw_status tw_document_disc(const tw_design *design, const double *radii, size_t count, json_t **out,
                           tw_fault *fault);

/* the seat: how it rests, and quasi-static touches: `azimuths` at elevation 0 and the pole, or the
 * whole default map when `map`. Rows are bare numbers, their units named once. */
tw_status tw_document_seat(const tw_design *design, int azimuths, bool map,
                           const tw_progress *progress, json_t **out, tw_fault *fault);

/* the circuit: levels, thresholds, budget, noise, overload, output, link, and the way of the signal
 * from newton to volt */
tw_status tw_document_circuit(const tw_design *design, json_t **out, tw_fault *fault);

/* one touch in time */
typedef struct tw_touch_ask {
  double azimuth, elevation; /* rad */
  double feed;               /* m/s */
  bool second;               /* go on to a second touch */
  double every;              /* s between points of the trace; 0: no trace */
} tw_touch_ask;

/* t_threshold, t_output, pretravel, overtravel, peak_force, output_end, state and the events; with
 * the trace as columns */
tw_status tw_document_touch(const tw_design *design, const tw_touch_ask *ask, json_t **out,
                            tw_fault *fault);
/* the same touch as a netlist for a circuit simulator */
tw_status tw_touch_write_netlist(const tw_design *design, const tw_touch_ask *ask, FILE *file,
                                 tw_fault *fault);
/* pretravel against the feeds of the design in one direction, the window they leave, delay */
tw_status tw_document_feeds(const tw_design *design, double azimuth, double elevation, json_t **out,
                            tw_fault *fault);

/* a crash, sideways and along the axis: its stages (what gives when), its parts with load, stress,
 * allowable and where each would fail, the order, energy, travel left after a touch, the curve of
 * force against travel, and the measures of `check` that come from it. `limits` may be NULL. Rows
 * and curves are bare numbers, their units named once. */
tw_status tw_document_crash(const tw_design *design, const tw_limits *limits,
                            const tw_progress *progress, json_t **out, tw_fault *fault);

/* the bench card: every quick check with its expected value, and what was measured on this unit */
tw_status tw_document_expect(const tw_design *design, json_t **out, tw_fault *fault);
/* readings against that card, what explains them, what would tell the explanations apart; NULL
 * without memory */
json_t *tw_document_suspect(const tw_design *design, tw_units *units, tw_system system,
                            const tw_bench_reading *reading, const tw_suspicion *suspicion);

/* puts `causes` into that document: one or two things wrong, in one order, with what each leaves */
void tw_json_put_causes(json_t *document, tw_units *units, tw_system system,
                        const tw_explanations *causes);
/* this unit: values before and after the readings, whether the model holds, what to measure next;
 * `about`: what that was to tell, NULL: everything alike */
json_t *tw_document_identify(const tw_design *design, const tw_bench_reading *reading,
                             const tw_identified *found, const tw_unit_values *values,
                             const char *about);

/* false trips: moves, the stated vibration and spectrum, mains, cable motion, orientation; with a
 * recorded trace (CSV with named columns) when `trace` is not NULL */
tw_status tw_document_shake(const tw_design *design, FILE *trace, const char *trace_name,
                            const tw_progress *progress, json_t **out, tw_fault *fault);

#endif
